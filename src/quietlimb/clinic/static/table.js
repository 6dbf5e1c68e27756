// The slots at the table. A reading leaves them at once, so that the next can be typed; `kept.js` keeps it until the
// clinic has it. What waits is shown dashed, beside the picture's band. What is refused comes back into the slots.
import * as kept from "./kept.js";

const form = document.getElementById("entry");
if (form) {
  const said = document.getElementById("entry-said");
  const list = document.getElementById("kept");
  const leaveOut = document.getElementById("leave-out");
  const slots = [...form.querySelectorAll("input")];
  const reasons = [...form.querySelectorAll("[data-reason]")];
  let ordinal = Number(form.dataset.ordinal);
  let correcting = null; // the refused reading that stands in the slots

  const pressed = () => reasons.find((each) => each.getAttribute("aria-pressed") === "true");
  const press = (one) => { for (const each of reasons) each.setAttribute("aria-pressed", String(each === one)); };
  const empty = () => slots.every((slot) => slot.value.trim() === "") && !pressed();
  const ofThisSeries = async () => (await kept.all()).filter((each) => each.post === form.dataset.post);

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

  function clear() {
    correcting = null;
    leaveOut.hidden = true;
    for (const slot of slots) slot.value = "";
    press(null);
    tell("", "");
    slots[0].focus();
  }

  function take() {
    const values = Object.fromEntries(slots.map((slot) => [slot.name, number(slot.value)]));
    const spoiled = pressed()?.dataset.reason ?? "";
    const same = correcting && JSON.stringify([correcting.values, correcting.spoiled]) === JSON.stringify([values, spoiled]);
    const reading = {
      client_id: key(), values, spoiled,
      // A corrected reading keeps its place and the time at which it was taken; unchanged after a question, it is meant so.
      ordinal: correcting?.ordinal ?? ordinal++, taken_at: correcting?.taken_at ?? new Date().toISOString(),
      sure: Boolean(same && correcting.refused.asks), post: form.dataset.post, page: form.dataset.page,
    };
    const instead = correcting;
    clear();
    kept.keep(reading, instead);
  }

  async function giveBack() {
    const refused = (await ofThisSeries()).find((each) => each.refused);
    if (!refused || correcting || !empty()) return;
    correcting = refused;
    leaveOut.hidden = false;
    for (const slot of slots) slot.value = refused.values[slot.name] ?? "";
    press(reasons.find((each) => each.dataset.reason === refused.spoiled));
    const why = refused.refused;
    tell(`${why.says}; ${why.remedy}${why.asks ? ` ${said.dataset.sure}` : ""}`, why.field);
    const at = slots.find((slot) => slot.name === why.field) ?? slots[0];
    at.focus();
    at.select();
  }

  function draw(waiting) {
    const picture = document.querySelector("#series .picture");
    if (!picture) return;
    for (const each of picture.querySelectorAll(".unsaved")) each.remove();
    const [top, bottom, low, high, lane] = ["top", "bottom", "low", "high", "lane"].map((name) => Number(picture.dataset[name]));
    for (const { values } of waiting) {
      if (typeof values.systolic !== "number") continue;
      const share = Math.min(1, Math.max(0, (values.systolic - low) / (high - low)));
      const dot = document.createElementNS("http://www.w3.org/2000/svg", "circle");
      const at = { class: "unsaved", cx: lane, cy: bottom - (bottom - top) * share, r: 8 };
      for (const [name, value] of Object.entries(at)) dot.setAttribute(name, value);
      picture.append(dot);
    }
  }

  async function show() {
    const waiting = await ofThisSeries();
    ordinal = Math.max(ordinal, ...waiting.map((each) => each.ordinal + 1));
    list.replaceChildren(...waiting.map((each) => {
      const line = document.createElement("li");
      const numbers = slots.map((slot) => each.values[slot.name] ?? "-").join(" / ");
      const time = new Date(each.taken_at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
      line.textContent = `${time}  ${numbers}${each.spoiled ? `  ${each.spoiled}` : ""}`;
      line.classList.toggle("refused", Boolean(each.refused));
      return line;
    }));
    draw(waiting);
    giveBack();
  }

  function swap(text) {
    const part = new DOMParser().parseFromString(text, "text/html").getElementById("series");
    if (!part) return;
    document.getElementById("series").replaceWith(part);
    window.htmx?.process(part);
  }

  for (const each of reasons) each.addEventListener("click", () => press(each === pressed() ? null : each));
  leaveOut.addEventListener("click", async () => {
    const out = correcting;
    clear();
    await kept.forget(out);
    kept.send();
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (!empty()) take();
  });
  form.addEventListener("keydown", (event) => {
    // Enter goes on to the next slot, and saves from the last: the display is read from top to bottom.
    if (event.key !== "Enter" || event.ctrlKey || event.metaKey || !(event.target instanceof HTMLInputElement)) return;
    event.preventDefault();
    const next = slots[slots.indexOf(event.target) + 1];
    if (next) next.focus(); else form.requestSubmit();
  });
  kept.told.addEventListener("saved", ({ detail }) => { if (detail.reading.post === form.dataset.post) swap(detail.text); });
  kept.told.addEventListener("change", show);
  document.addEventListener("htmx:after:swap", show);
  // Only from here on does Enter save: what was typed before would be lost with the page.
  for (const each of form.querySelectorAll("[disabled]")) each.disabled = false;
  slots[0].focus();
  show();
}
