// Enter in the search starts with the animal that was found, where it is one; of several the first gets the focus.
"use strict";

const letters = document.getElementById("letters");
let wanted = false; // Enter came before the hits of what was typed

function go() {
  const hits = document.getElementById("hits");
  if (hits.dataset.letters !== letters.value) return false;
  const links = hits.querySelectorAll("a.action");
  if (links.length === 1) links[0].click();
  else links[0]?.focus();
  return true;
}

letters.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.ctrlKey || event.metaKey || letters.value.trim() === "") return;
  event.preventDefault();
  wanted = !go();
});
letters.addEventListener("input", () => { wanted = false; });
document.addEventListener("htmx:after:swap", () => { if (wanted) wanted = !go(); });
