// The slots at the table. A reading is JSON with a key of its own, so that sending it twice makes one row. It leaves the
// slots at once, so that the next can be typed; it waits in line until the answer says that it is saved, and is sent in
// order. The line below the slots tells the truth about what is saved. What is refused comes back into the slots.
"use strict";

(() => {
  const form = document.getElementById("entry");
  if (!form) return;
  const said = document.getElementById("entry-said");
  const slots = [...form.querySelectorAll("input")];
  const reasons = [...form.querySelectorAll("[data-reason]")];
  const RETRY_MS = 5000;
  const waiting = []; // readings not known to be saved, in the order typed
  const refused = []; // { reading, told }: to be corrected when the slots are free
  let ordinal = Number(form.dataset.ordinal);
  let sending = false;
  let correcting = null; // the refused reading that stands in the slots

  const pressed = () => reasons.find((each) => each.getAttribute("aria-pressed") === "true");
  const press = (one) => { for (const each of reasons) each.setAttribute("aria-pressed", String(each === one)); };
  const empty = () => slots.every((slot) => slot.value.trim() === "") && !pressed();

  function number(text) {
    const plain = text.trim().replace(",", ".");
    return plain === "" ? null : Number.isFinite(Number(plain)) ? Number(plain) : plain;
  }

  function key() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return hex.replace(/(.{8})(.{4})(.{4})(.{4})(.{12})/, "$1-$2-$3-$4-$5");
  }

  function tell(text, slot) {
    said.textContent = text;
    for (const each of slots) each.setAttribute("aria-invalid", String(each.name === slot));
  }

  function take() {
    const values = Object.fromEntries(slots.map((slot) => [slot.name, number(slot.value)]));
    const spoiled = pressed()?.dataset.reason ?? "";
    const same = correcting && JSON.stringify([correcting.values, correcting.spoiled]) === JSON.stringify([values, spoiled]);
    // A corrected reading keeps the time at which it was taken; unchanged after a question, it is meant so.
    const taken_at = correcting?.taken_at ?? new Date().toISOString();
    waiting.push({ client_id: key(), ordinal, taken_at, values, spoiled, sure: Boolean(same) });
    ordinal += 1;
    correcting = null;
    for (const slot of slots) slot.value = "";
    press(null);
    slots[0].focus();
  }

  function give_back() {
    if (!refused.length || !empty()) return;
    const { reading, told } = refused.shift();
    correcting = reading;
    for (const slot of slots) slot.value = reading.values[slot.name] ?? "";
    press(reasons.find((each) => each.dataset.reason === reading.spoiled));
    tell(`${told.says}; ${told.remedy}${told.asks ? ` ${said.dataset.sure}` : ""}`, told.field);
    const at = slots.find((slot) => slot.name === told.field) ?? slots[0];
    at.focus();
    at.select();
  }

  async function send() {
    if (sending || !waiting.length) return;
    sending = true;
    const reading = waiting[0];
    const { values, ...rest } = reading;
    let answer = null;
    try {
      answer = await fetch(form.dataset.post, {
        method: "POST", redirect: "manual", credentials: "same-origin",
        headers: { "Content-Type": "application/json", "X-CSRFToken": form.dataset.token },
        body: JSON.stringify({ ...rest, ...values }),
      });
      if (answer.ok) show(await answer.text());
      if (answer.status === 422 || answer.status === 409) refused.push({ reading, told: await answer.json() });
    } catch {
      answer = null; // whether it arrived is not known: it is sent again under the same key
    }
    sending = false;
    if (answer && (answer.ok || refused.at(-1)?.reading === reading)) {
      waiting.shift();
      if (waiting.length) return send();
      tell(answer.ok ? said.dataset.saved : "", "");
      return give_back();
    }
    const out = answer && (answer.type === "opaqueredirect" || answer.status === 403);
    tell(`${waiting.length} ${out ? said.dataset.out : said.dataset.unsaved}`, "");
    setTimeout(send, RETRY_MS);
  }

  function show(text) {
    const part = new DOMParser().parseFromString(text, "text/html").getElementById("series");
    document.getElementById("series").replaceWith(part);
    window.htmx?.process(part);
  }

  for (const each of reasons) each.addEventListener("click", () => press(each === pressed() ? null : each));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (empty()) return;
    take();
    send();
  });
  form.addEventListener("keydown", (event) => {
    // Enter goes on to the next slot, and saves from the last: the display is read from top to bottom.
    if (event.key !== "Enter" || event.ctrlKey || event.metaKey || !(event.target instanceof HTMLInputElement)) return;
    event.preventDefault();
    const next = slots[slots.indexOf(event.target) + 1];
    if (next) next.focus(); else form.requestSubmit();
  });
  window.addEventListener("online", send);
  window.addEventListener("beforeunload", (event) => { if (waiting.length || refused.length) event.preventDefault(); });
})();
