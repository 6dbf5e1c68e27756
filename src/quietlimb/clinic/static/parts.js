// Forms at the table whose answer replaces one part of the page. Without network the page stays, with what was typed on it,
// and the part says that nothing has reached the clinic.
import { freshToken } from "./kept.js";

const GIVE_UP_MS = 15000;

document.addEventListener("submit", async (event) => {
  const part = event.target.closest("[data-part]");
  if (!part) return;
  event.preventDefault();
  const { id } = part;
  const pressed = event.submitter;
  const fields = new FormData(event.target, pressed);
  let found = null;
  try {
    const headers = { "X-CSRFToken": await freshToken(), "HX-Request": "true" };
    const answer = await fetch(event.target.action, {
      method: "POST", body: fields, headers, credentials: "same-origin", redirect: "manual", signal: AbortSignal.timeout(GIVE_UP_MS),
    });
    const text = await answer.text();
    if (answer.ok) found = new DOMParser().parseFromString(text, "text/html").getElementById(id);
  } catch {
    // no answer: said below
  }
  if (!found) {
    part.querySelector("[role=status]").textContent = part.dataset.unsent;
    return;
  }
  part.replaceWith(found);
  // The same button, or another one of the part, so that a keyboard goes on from here.
  (found.querySelector(`button[value="${pressed?.value}"]`) ?? found.querySelector("button"))?.focus();
});

// Minutes go on counting while the page is open.
function tick() {
  const part = document.getElementById("settling");
  if (!part?.dataset.since) return;
  const words = part.dataset.toGo.split("|");
  const minutes = Math.max(0, Math.floor((Date.now() - Date.parse(part.dataset.since)) / 60000));
  part.querySelector("[data-minutes]").textContent = minutes;
  part.querySelector("[data-still]").textContent = words[Math.min(minutes, words.length - 1)];
}
setInterval(tick, 5000);
