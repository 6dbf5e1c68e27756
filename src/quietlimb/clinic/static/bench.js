// The bench: Enter goes on to the next empty step, the time of a hold is counted, a recording may be dropped anywhere.
// Without it everything can still be typed. No sound, and nothing flashes.
const form = document.querySelector("[data-bench]");
if (form) {
  const steps = [...form.querySelectorAll(".step")];
  // what the reference is brought to stands there already; what is read off is typed
  const typed = steps.map((step) => [...step.querySelectorAll("input")]);
  const order = typed.flatMap((inputs) => (inputs.length === 2 ? inputs.slice(1) : inputs));

  function here() {
    for (const step of steps) step.toggleAttribute("data-here", step.contains(document.activeElement));
  }

  form.addEventListener("focusin", here);
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.ctrlKey || event.metaKey || !order.includes(event.target)) return;
    event.preventDefault();
    const next = order.slice(order.indexOf(event.target) + 1).find((input) => !input.value) ?? form.querySelector("button.action");
    next.focus();
  });

  function difference(step) {
    const told = step.querySelector("[data-difference]");
    const [reference, shown] = [...step.querySelectorAll("input")].map((input) => (input.value === "" ? NaN : Number(input.value)));
    if (!told) return;
    const apart = shown - reference;
    told.textContent = Number.isFinite(apart) ? `${apart > 0 ? "+" : ""}${Math.round(apart * 10) / 10}` : "";
  }

  for (const step of steps) {
    step.addEventListener("input", () => difference(step));
    difference(step);
    const button = step.querySelector("[data-timer]");
    if (!button) continue;
    button.hidden = false;
    const seconds = step.querySelectorAll("input")[1];
    let began = null;
    let ticking = 0;
    button.addEventListener("click", () => {
      if (began === null) {
        began = performance.now();
        button.textContent = button.dataset.stop;
        ticking = setInterval(() => { seconds.value = Math.floor((performance.now() - began) / 1000); }, 250);
        return;
      }
      clearInterval(ticking);
      seconds.value = Math.round((performance.now() - began) / 1000);
      began = null;
      button.textContent = button.dataset.start;
      step.querySelectorAll("input")[2].focus();
    });
  }

  const file = form.elements[form.dataset.drop];
  if (file) {
    document.addEventListener("dragover", (event) => event.preventDefault());
    document.addEventListener("drop", (event) => {
      event.preventDefault();
      if (!event.dataTransfer.files.length) return;
      file.files = event.dataTransfer.files;
      file.focus();
    });
  }
}
