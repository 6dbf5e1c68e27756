// Forms that lead away from the table. They are sent from here, so that without an answer the page stays with all that is
// typed on it; and the end is asked about while a reading is not saved.
import * as kept from "./kept.js";

const GIVE_UP_MS = 15000;

async function unsaved() {
  const here = (await kept.all()).filter((each) => !kept.isElsewhere(each) && each.page.split("?")[0] === location.pathname);
  const typed = [...document.querySelectorAll("#slots input[name]")].some((slot) => slot.value.trim() !== "");
  return here.length > 0 || typed;
}

document.addEventListener("submit", async (event) => {
  const form = event.target.closest("form[data-stay]");
  if (!form) return;
  event.preventDefault();
  const pressed = event.submitter;
  const said = form.querySelector("[role=status]");
  if (form.dataset.unsaved && form.dataset.sure !== pressed?.value && await unsaved()) {
    form.dataset.sure = pressed?.value;
    said.textContent = form.dataset.unsaved;
    return;
  }
  const fields = new FormData(form, pressed);
  fields.delete("csrfmiddlewaretoken"); // of when the page was opened: somebody else may be here since
  let answer = null;
  let text = "";
  try {
    answer = await fetch(form.action, {
      method: "POST", body: fields, headers: { "X-CSRFToken": await kept.freshToken() }, credentials: "same-origin", signal: AbortSignal.timeout(GIVE_UP_MS),
    });
    text = await answer.text();
  } catch {
    answer = null; // said below
  }
  if (!answer || answer.status >= 500) {
    said.textContent = form.dataset.unsent;
    return;
  }
  if (answer.redirected) {
    const to = new URL(answer.url);
    const back = `?next=${encodeURIComponent(location.pathname + location.search)}`;
    location.assign(to.pathname === new URL(document.getElementById("strip").dataset.signIn, location).pathname ? to.pathname + back : to);
    return;
  }
  const found = new DOMParser().parseFromString(text, "text/html");
  const part = form.id ? found.getElementById(form.id) : null;
  const place = part ? form : document.getElementById("main");
  const made = part ?? found.getElementById("main");
  place.replaceWith(made);
  window.htmx?.process(made);
  (made.querySelector("[role=alert]") ?? made).scrollIntoView({ block: "nearest" });
});
