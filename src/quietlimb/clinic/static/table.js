// The slots at the table: one reading as JSON with a key of its own, so that sending it twice makes one row. The answer
// is the part of the page. What is not known to be saved stays in the slots, with its key and the time it was taken.
"use strict";

(() => {
  const form = document.getElementById("entry");
  if (!form) return;
  const said = document.getElementById("entry-said");
  const slots = [...form.querySelectorAll("input")];
  const reasons = [...form.querySelectorAll("[data-reason]")];
  let ordinal = Number(form.dataset.ordinal);
  let pending = null; // the reading on its way, or refused: kept until its numbers change
  let asked = "";

  const typed = () => JSON.stringify([slots.map((slot) => slot.value), reason()]);
  const reason = () => (reasons.find((each) => each.getAttribute("aria-pressed") === "true") || { dataset: {} }).dataset.reason || "";
  const number = (text) => (text.trim() === "" ? null : Number(text.trim().replace(",", ".")));
  const key = () => ("randomUUID" in crypto ? crypto.randomUUID()
    : "10000000-1000-4000-8000-100000000000".replace(/[018]/g, (c) => (c ^ (crypto.getRandomValues(new Uint8Array(1))[0] & (15 >> (c / 4)))).toString(16)));

  function show(text, slot) {
    said.textContent = text;
    for (const each of slots) each.setAttribute("aria-invalid", String(each.name === slot));
    const at = slots.find((each) => each.name === slot);
    if (at) { at.focus(); at.select(); }
  }

  function clear() {
    for (const slot of slots) slot.value = "";
    for (const each of reasons) each.setAttribute("aria-pressed", "false");
    pending = null;
    asked = "";
    ordinal += 1;
    slots[0].focus();
  }

  async function save() {
    const now = typed();
    if (pending && pending.busy) return;
    if (!pending || pending.typed !== now) pending = { typed: now, client_id: key(), taken_at: new Date().toISOString() };
    const reading = { client_id: pending.client_id, ordinal, taken_at: pending.taken_at, spoiled: reason(), sure: asked === now };
    for (const slot of slots) {
      const value = number(slot.value);
      reading[slot.name] = Number.isNaN(value) ? slot.value : value;
    }
    pending.busy = true;
    let answer;
    try {
      answer = await fetch(form.dataset.post, {
        method: "POST", redirect: "manual", credentials: "same-origin",
        headers: { "Content-Type": "application/json", "X-CSRFToken": form.dataset.token },
        body: JSON.stringify(reading),
      });
    } catch {
      return show(said.dataset.unsaved, "");
    } finally {
      pending.busy = false;
    }
    if (answer.status === 200 || answer.status === 201) {
      const part = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("series");
      const old = document.getElementById("series");
      old.replaceWith(part);
      window.htmx?.process(part);
      show(said.dataset.saved, "");
      return clear();
    }
    if (answer.type === "opaqueredirect" || answer.status === 403) return show(said.dataset.out, "");
    if (answer.status === 422 || answer.status === 409) {
      const told = await answer.json();
      if (told.asks) asked = now;
      if (told.code === "key-taken") pending = null;
      return show(`${told.says}; ${told.remedy}${told.asks ? ` ${said.dataset.sure}` : ""}`, told.field);
    }
    return show(said.dataset.unsaved, "");
  }

  for (const each of reasons) {
    each.addEventListener("click", () => {
      const on = each.getAttribute("aria-pressed") === "true";
      for (const other of reasons) other.setAttribute("aria-pressed", "false");
      each.setAttribute("aria-pressed", String(!on));
    });
  }
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    save();
  });
  form.addEventListener("keydown", (event) => {
    // Enter goes on to the next slot, and saves from the last: the display is read from top to bottom.
    if (event.key !== "Enter" || event.ctrlKey || event.metaKey || !(event.target instanceof HTMLInputElement)) return;
    event.preventDefault();
    const next = slots[slots.indexOf(event.target) + 1];
    if (next) next.focus(); else save();
  });
})();
