"""The certificate by which tablets know this machine: the practice's own, or one made here at the first start.

Made here are an authority, which a tablet is told to trust once, and a certificate of it for this machine, which is
made anew before it ends. The authority may vouch for this machine's name and nothing else, so whoever stole its key
could not pretend to be any other place.
"""

from __future__ import annotations

import ipaddress
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from quietlimb.clinic.configuration import Configuration, ConfigurationError

AUTHORITY_FOR = timedelta(days=3650)
MACHINE_FOR = timedelta(days=397)  # browsers of tablets take no more than 825, some no more than 398 [memory]
RENEWED_BEFORE = timedelta(days=60)
CLOCKS_DIFFER = timedelta(days=1)


def ensure(configuration: Configuration, now: datetime | None = None, *, new_authority: bool = False) -> None:
    """See that there is a certificate for the name under which tablets reach this machine.

    Certificate and key that the practice put there stand as they are. Of those made here, the authority stays as long
    as the name does.

    new_authority : the name may be another one; tablets then have to trust the new authority

    Raises ConfigurationError where a file is missing beside another, cannot be read or written, or tablets trust the
    clinic under another name.
    """
    at = now or datetime.now(UTC)
    host = configuration.lan_host
    assert host is not None
    certificate, key = configuration.certificate_files
    authority, authority_key = configuration.authority_files
    try:
        if not authority.exists() and (certificate.exists() or key.exists()):
            _refuse_half(certificate, key)
            return
        certificate.parent.mkdir(mode=0o700, exist_ok=True)
        if not new_authority:
            _refuse_another_name(authority, host)
        if not _vouches_for(authority, authority_key, host, at):
            _make_authority(authority, authority_key, host, at)
            certificate.unlink(missing_ok=True)
        if not _is_good(certificate, key, host, at):
            _make_certificate(configuration, host, at)
    except (OSError, ValueError, TypeError) as error:
        raise ConfigurationError(
            "bad-certificate",
            f"the certificates in {certificate.parent} cannot be used ({error})",
            "move the folder away; the next start makes others, and tablets have to trust them anew",
        ) from error


def fingerprint(path: Path) -> str:
    """sha256 of a certificate in groups, to compare by eye."""
    digest = x509.load_pem_x509_certificate(path.read_bytes()).fingerprint(hashes.SHA256()).hex().upper()
    return " ".join(digest[k : k + 4] for k in range(0, len(digest), 4))


def _refuse_half(certificate: Path, key: Path) -> None:
    for path, other in ((certificate, key), (key, certificate)):
        if not path.exists():
            raise ConfigurationError("no-certificate", f"there is {other} but no {path}", "put both there, or neither")


def _refuse_another_name(authority: Path, host: str) -> None:
    if not authority.exists():
        return
    (known,) = _constraints(authority)
    if known != _permitted(host):
        name = str(known.value).removesuffix("/32").removesuffix("/128")
        raise ConfigurationError(
            "another-name",
            f"tablets trust this clinic as {name}, not as {host}",
            f"start it with --lan {name}, or with --new-authority: then every tablet has to trust new digits",
        )


def _constraints(authority: Path) -> list[x509.GeneralName]:
    known = x509.load_pem_x509_certificate(authority.read_bytes())
    return list(known.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or ())


def _vouches_for(authority: Path, key: Path, host: str, at: datetime) -> bool:
    if not (authority.exists() and key.exists()):
        return False
    known = x509.load_pem_x509_certificate(authority.read_bytes())
    return known.not_valid_after_utc > at + MACHINE_FOR and _constraints(authority) == [_permitted(host)]


def _is_good(certificate: Path, key: Path, host: str, at: datetime) -> bool:
    if not (certificate.exists() and key.exists()):
        return False
    known = x509.load_pem_x509_certificate(certificate.read_bytes())
    names = known.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return known.not_valid_after_utc > at + RENEWED_BEFORE and list(names) == [_name(host)]


def _make_authority(path: Path, key_path: Path, host: str, at: datetime) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Quietlimb clinic at {host}"[:64])])
    made = (
        _begun(subject, subject, key.public_key(), at, AUTHORITY_FOR)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(x509.NameConstraints([_permitted(host)], None), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write(key_path, _as_pem(key))
    _write(path, made.public_bytes(serialization.Encoding.PEM))


def _make_certificate(configuration: Configuration, host: str, at: datetime) -> None:
    certificate, key_path = configuration.certificate_files
    authority, authority_key = configuration.authority_files
    by = x509.load_pem_x509_certificate(authority.read_bytes())
    signing = serialization.load_pem_private_key(authority_key.read_bytes(), password=None)
    if not isinstance(signing, ec.EllipticCurvePrivateKey):
        raise ValueError(f"{authority_key.name} is of another kind")
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, host[:64])])
    made = (
        _begun(subject, by.subject, key.public_key(), at, MACHINE_FOR)
        .add_extension(x509.SubjectAlternativeName([_name(host)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signing.public_key()), critical=False)
        .sign(signing, hashes.SHA256())
    )
    _write(key_path, _as_pem(key))
    _write(certificate, made.public_bytes(serialization.Encoding.PEM))


def _begun(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePublicKey, at: datetime, lasts: timedelta
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - CLOCKS_DIFFER)
        .not_valid_after(at + lasts)
    )


def _usage(*, signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs,
        key_cert_sign=signs,
        crl_sign=signs,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _address(host: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(host)
    except ValueError:
        return None


def _name(host: str) -> x509.GeneralName:
    address = _address(host)
    return x509.DNSName(host) if address is None else x509.IPAddress(address)


def _permitted(host: str) -> x509.GeneralName:
    """The name, or the network of the one address, as a constraint writes it."""
    address = _address(host)
    return x509.DNSName(host) if address is None else x509.IPAddress(ipaddress.ip_network(address))


def _as_pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def _write(path: Path, content: bytes) -> None:
    """A file for its owner alone, there as a whole or not at all."""
    half = path.with_name(path.name + ".part")
    half.unlink(missing_ok=True)
    with os.fdopen(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(content)
    half.replace(path)
