// Keys of the frame: "/" goes to the search, Ctrl+Enter does the page's main action. Nothing else is needed to work.
"use strict";

document.addEventListener("keydown", (event) => {
  const typing = event.target.matches("input, textarea, select, [contenteditable]");
  if (event.key === "/" && !typing) {
    const search = document.querySelector("[data-search]");
    if (search) { event.preventDefault(); search.focus(); }
  }
  if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
    const main = document.querySelector("[data-main]");
    if (!main) return;
    event.preventDefault();
    // What is done for good is looked at first: from elsewhere on the page the keys only lead there.
    if ("lookFirst" in main.dataset && !main.contains(document.activeElement)) main.querySelector("button").focus();
    else if (main instanceof HTMLFormElement) main.requestSubmit(); else main.click();
  }
});

document.querySelector("[data-print]")?.addEventListener("click", () => window.print());
