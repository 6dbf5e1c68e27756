"""TLS for tablets: what is made, what it is good for, and that nothing else is answered."""

from __future__ import annotations

import contextlib
import http.client
import re
import socket
import ssl
import stat
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509

from clinic.ports import free_port
from clinic.serving import serving
from quietlimb.clinic.certificates import MACHINE_FOR, RENEWED_BEFORE, ensure, fingerprint
from quietlimb.clinic.configuration import Configuration, ConfigurationError

NOW = datetime(2031, 3, 4, tzinfo=UTC)


def told(folder: Path, host: str = "clinic.example") -> Configuration:
    """A configuration whose data folder is there."""
    found = Configuration(data=folder / "data", lan_host=host)
    found.prepare()
    return found


def test_a_browser_that_trusts_the_authority_reaches_the_clinic_and_no_other_does(tmp_path: Path) -> None:
    """By TLS under the name, with secure cookies; without trust, under another name or in the clear there is no answer.

    Oracle: reference, OpenSSL as linked into CPython's ssl, with its default checks.
    """
    data, port = tmp_path / "data", free_port()
    with serving(data, port, "--lan", "localhost") as said:
        assert f"https://localhost:{port}/trust" in said
        digits = re.search(r"compare ((?:[0-9A-F]{4} ?){16})", said)
        assert digits
        authority = data / "tls" / "authority.pem"
        trusting = ssl.create_default_context(cafile=str(authority))
        trusting.minimum_version = ssl.TLSVersion.TLSv1_2
        asked = http.client.HTTPSConnection("localhost", port, context=trusting, timeout=20)
        asked.request("GET", "/trust")
        page = asked.getresponse().read().decode()
        assert digits[1].strip() in page
        asked.request("GET", "/trust/certificate")
        assert asked.getresponse().read() == authority.read_bytes()
        asked.request("GET", "/first")
        answer = asked.getresponse()
        assert "secure" in (answer.getheader("set-cookie") or "").lower()
        answer.read()
        asked.close()
        with pytest.raises(ssl.SSLCertVerificationError, match="local issuer"):
            http.client.HTTPSConnection("localhost", port, timeout=20).request("GET", "/")
        with pytest.raises(ssl.SSLCertVerificationError, match="not valid for"):
            http.client.HTTPSConnection("127.0.0.1", port, context=trusting, timeout=20).request("GET", "/")
        with socket.create_connection(("localhost", port), timeout=20) as plain:
            plain.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
            assert b"HTTP/1.1 " not in _all_of(plain)


def _all_of(plain: socket.socket) -> bytes:
    """What comes until the other side ends it, rudely or not."""
    came = b""
    with contextlib.suppress(ConnectionError):
        while piece := plain.recv(4096):
            came += piece
    return came


@pytest.mark.parametrize("host", ["clinic.example", "192.0.2.7", "2001:db8::7"])
def test_the_authority_vouches_for_this_machine_and_nothing_else(tmp_path: Path, host: str) -> None:
    """OpenSSL takes the machine's certificate under the authority; it is for the one name or address; keys are private.

    Oracle: reference, `openssl verify`, strict, at the time; the names are read with cryptography of the lock file.
    """
    found = told(tmp_path, host)
    ensure(found, NOW)
    certificate, key = found.certificate_files
    authority, authority_key = found.authority_files
    at = str(int((NOW + timedelta(days=30)).timestamp()))
    words = ["openssl", "verify", "-x509_strict", "-attime", at, "-CAfile", str(authority), "-purpose", "sslserver"]
    kind = "-verify_hostname" if host == "clinic.example" else "-verify_ip"
    done = subprocess.run([*words, kind, host, str(certificate)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    other = "other.example" if host == "clinic.example" else "192.0.2.8"
    done = subprocess.run([*words, kind, other, str(certificate)], capture_output=True, text=True, check=False)
    assert done.returncode != 0
    constraint = x509.load_pem_x509_certificate(authority.read_bytes()).extensions
    permitted = constraint.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees
    assert permitted is not None
    assert [str(each.value).split("/")[0] for each in permitted] == [host]
    for path in (certificate, key, authority, authority_key):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_what_was_made_stays_until_it_has_to_go(tmp_path: Path) -> None:
    """The next start changes nothing; near its end the machine's certificate is made anew and the authority stays;
    another name makes both anew, and only where that was asked for.

    Oracle: by construction.
    """
    found = told(tmp_path)
    ensure(found, NOW)
    paths = (*found.certificate_files, *found.authority_files)
    first = [path.read_bytes() for path in paths]
    ensure(found, NOW + MACHINE_FOR - RENEWED_BEFORE - timedelta(days=1))
    assert [path.read_bytes() for path in paths] == first
    ensure(found, NOW + MACHINE_FOR - RENEWED_BEFORE + timedelta(days=1))
    later = [path.read_bytes() for path in paths]
    assert [a == b for a, b in zip(first, later, strict=True)] == [False, False, True, True]
    with pytest.raises(ConfigurationError, match=r"as clinic\.example, not as another\.example"):
        ensure(told(tmp_path, "another.example"), NOW)
    assert [path.read_bytes() for path in paths] == later
    ensure(told(tmp_path, "another.example"), NOW, new_authority=True)
    assert all(a != path.read_bytes() for a, path in zip(later, paths, strict=True))


def test_a_certificate_of_the_practice_s_own_stands_as_it_is(tmp_path: Path) -> None:
    """Nothing is made beside it; half of a pair, and what is no certificate of ours, are told.

    Oracle: by construction.
    """
    found = told(tmp_path)
    certificate, key = found.certificate_files
    certificate.parent.mkdir()
    certificate.write_text("the practice's own", encoding="ascii")
    with pytest.raises(ConfigurationError, match="but no"):
        ensure(found, NOW)
    key.write_text("its key", encoding="ascii")
    ensure(found, NOW)
    assert certificate.read_text(encoding="ascii") == "the practice's own"
    assert not found.authority_files[0].exists()
    found.authority_files[0].write_text("none", encoding="ascii")
    found.authority_files[1].write_text("none", encoding="ascii")
    with pytest.raises(ConfigurationError, match="cannot be used"):
        ensure(found, NOW)


def test_the_digits_are_the_sha256_of_the_certificate(tmp_path: Path) -> None:
    """In sixteen groups of four. Oracle: reference, `openssl x509 -fingerprint`."""
    found = told(tmp_path)
    ensure(found, NOW)
    authority = found.authority_files[0]
    done = subprocess.run(
        ["openssl", "x509", "-in", str(authority), "-noout", "-fingerprint", "-sha256"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip().split("=")[1].replace(":", "") == fingerprint(authority).replace(" ", "")
