// The screen stays awake at the table, where the browser can do that. A page that was hidden has to ask anew.
async function stayAwake() {
  if (document.visibilityState !== "visible") return;
  try {
    await navigator.wakeLock?.request("screen");
  } catch {
    // a low battery, or no permission: nothing of the work hangs on it
  }
}
document.addEventListener("visibilitychange", stayAwake);
stayAwake();
