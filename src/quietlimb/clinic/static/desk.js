// Copies the chart note. Without a clipboard the note is selected, to be copied by hand.
"use strict";

document.addEventListener("click", async (event) => {
  const button = event.target.closest("[data-copy]");
  if (!button) return;
  const note = document.getElementById(button.dataset.copy);
  const said = document.getElementById(`${button.dataset.copy}-said`);
  note.select();
  try {
    await navigator.clipboard.writeText(note.value);
    said.textContent = said.dataset.copied;
  } catch {
    said.textContent = said.dataset.selected;
  }
});
