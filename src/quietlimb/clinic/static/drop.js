// Recordings dropped anywhere on the table page, or chosen: each is sent at once, read by the clinic, and its result
// swapped in. What was not taken stays in the list with the reason; the file itself is still where it came from.
import { freshToken } from "./kept.js";
import { key, swap } from "./table.js";

const place = document.getElementById("recordings");
if (place) {
  const chosen = place.querySelector("input");
  const list = place.querySelector("ul");

  // A WFDB record is a header with its signals; every other file stands for itself.
  function recordings(files) {
    const stem = (name) => name.replace(/\.[^.]*$/, "");
    const headers = files.filter((file) => /\.hea$/i.test(file.name));
    const groups = headers.map((header) => files.filter((file) => file === header || (/\.dat$/i.test(file.name) && stem(file.name).startsWith(stem(header.name)))));
    const grouped = new Set(groups.flat());
    return [...groups, ...files.filter((file) => !grouped.has(file)).map((file) => [file])];
  }

  async function send(files) {
    const line = document.createElement("li");
    const name = files[0].name;
    line.textContent = `${name}: ${place.dataset.reads}`;
    list.append(line);
    const refuse = (why) => {
      line.classList.add("refused");
      line.textContent = `${name}: ${why}`;
      return null;
    };
    // Not sent at all: the clinic would cut it off, which looks like a network that broke.
    if (files.reduce((sum, file) => sum + file.size, 0) > Number(place.dataset.most)) return refuse(place.dataset.large);
    const body = new FormData();
    for (const file of files) body.append("file", file);
    body.append("client_id", key());
    body.append("taken_at", new Date(Math.min(files[0].lastModified, Date.now())).toISOString());
    const answer = await fetch(place.dataset.post, {
      method: "POST", redirect: "manual", credentials: "same-origin", body, headers: { "X-CSRFToken": await freshToken() },
    }).catch(() => null);
    if (answer?.ok) {
      const elsewhere = answer.headers.get("Quietlimb-Series");
      const text = await answer.text();
      if (answer.status === 200) line.textContent = `${name}: ${place.dataset.again}`; // it stood there before
      else line.remove();
      if (!elsewhere) swap(text);
      return elsewhere;
    }
    const why = answer && [409, 422].includes(answer.status) ? await answer.json().catch(() => null) : null;
    if (answer?.status === 413) return refuse(place.dataset.large);
    return refuse(why?.says ? `${why.says}; ${why.remedy}.` : place.dataset.unsent);
  }

  async function take(files) {
    let elsewhere = null;
    const byName = [...files].sort((a, b) => a.name.localeCompare(b.name, undefined, { numeric: true }));
    for (const group of recordings(byName)) elsewhere = await send(group) ?? elsewhere;
    if (elsewhere) window.location.assign(elsewhere);
  }

  chosen.addEventListener("change", () => { take([...chosen.files]); chosen.value = ""; });
  document.addEventListener("dragover", (event) => event.preventDefault());
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    if (event.dataTransfer.files.length) take(event.dataTransfer.files);
  });
}
