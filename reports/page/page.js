/* Levels come twenty times a second: only widths and figures change, nothing is built anew. */
function coilwiseLevels(levels) {
  const bars = document.querySelectorAll(".levels .level");
  levels.forEach((db, k) => {
    const bar = bars[k];
    if (!bar) return;
    const share = Math.min(1, Math.max(0, 1 + db / 80));
    bar.querySelector(".fill").style.transform = `scaleX(${share})`;
    bar.querySelector(".figure").textContent = db <= -80 ? "nothing" : `${Math.round(db)} dB`;
    bar.setAttribute("aria-valuenow", db.toFixed(0));
    bar.classList.toggle("loud", db > -1);
  });
  window.coilwiseFrames = (window.coilwiseFrames || 0) + 1;
}

/* What the page says while it has lost its server. */
document.addEventListener("DOMContentLoaded", () => {
  const popup = document.getElementById("popup");
  if (popup) {
    popup.innerHTML =
      "<span>Connection lost. Whole takes are safe in the job's folder.</span>" +
      "<span>It goes on by itself as soon as coilwise answers; if it was ended, start coilwise page again.</span>";
  }
});

/* Each screen has an address, #play and so on: back and reload return to it. */
function coilwiseShow(screen) {
  if (location.hash.slice(1) !== screen) history.pushState(null, "", `#${screen}`);
}
function coilwiseBegin(first) {
  if (!location.hash) history.replaceState(null, "", `#${first}`);
  return location.hash.slice(1);
}
window.addEventListener("popstate", () => emitEvent("coilwise-screen", location.hash.slice(1)));

/* What has the focus of the keyboard may go away, as a question that was answered does: what stands there now
   takes it, so that the next key goes on from there and a screen reader says it. */
function coilwiseKeepFocus() {
  let byKeys = false, last = null;
  document.addEventListener("keydown", () => { byKeys = true; }, true);
  document.addEventListener("pointerdown", () => { byKeys = false; }, true);
  document.addEventListener("focusin", (event) => { last = event.target; });
  const gone = (one) => !one.isConnected || one.getClientRects().length === 0;
  new MutationObserver(() => {
    const now = document.activeElement;
    if (!byKeys || !last || (now !== document.body && now !== last) || !gone(last)) return;
    const heads = [...document.querySelectorAll(".screen h1, .screen h2")];
    const head = heads.find((one) => one.getClientRects().length > 0 && one.innerText.trim());
    if (!head) return;
    head.tabIndex = -1;
    head.focus();
  }).observe(document.body, { childList: true, subtree: true, attributes: true, attributeFilter: ["class", "style"] });
}
document.addEventListener("DOMContentLoaded", coilwiseKeepFocus);

/* Light, dark, or as the system has it; kept by the browser alone. */
function coilwiseLook(look) {
  if (look) document.documentElement.dataset.theme = look;
  else delete document.documentElement.dataset.theme;
  try { localStorage.setItem("coilwise-look", look); } catch { /* a browser that keeps nothing */ }
  document.querySelectorAll(".look select").forEach((one) => { one.value = look; });
}
function coilwiseKeptLook() {
  try { return localStorage.getItem("coilwise-look") || ""; } catch { return ""; }
}
coilwiseLook(coilwiseKeptLook());

/* A dead server takes the large words with it. */
document.addEventListener("DOMContentLoaded", () => {
  const popup = document.getElementById("popup");
  const watch = () => document.documentElement.classList.toggle("lost", popup.ariaHidden === "false");
  if (popup) new MutationObserver(watch).observe(popup, { attributes: true });
  const header = new MutationObserver(() => {
    const select = document.querySelector(".look select");
    if (!select) return;
    select.value = coilwiseKeptLook();
    header.disconnect();
  });
  header.observe(document.body, { childList: true, subtree: true });
});

/* Recordings may be dropped anywhere: the screen for them opens, and its place for files takes them. */
function coilwiseHasFiles(event) {
  return [...(event.dataTransfer?.types ?? [])].includes("Files");
}
document.addEventListener("dragover", (event) => {
  if (!coilwiseHasFiles(event)) return;
  event.preventDefault();
  document.documentElement.classList.add("dropping");
});
document.addEventListener("dragleave", (event) => {
  if (!event.relatedTarget) document.documentElement.classList.remove("dropping");
});
document.addEventListener("drop", (event) => {
  document.documentElement.classList.remove("dropping");
  if (!coilwiseHasFiles(event) || event.target.closest(".bring .q-uploader")) return;
  event.preventDefault();
  const files = event.dataTransfer.files;
  emitEvent("coilwise-screen", "bring");
  let tries = 0;
  const give = () => {
    const input = document.querySelector(".bring input[type=file]");
    if (!input) { if (tries++ < 100) setTimeout(give, 50); return; }
    input.files = files;
    input.dispatchEvent(new Event("change", { bubbles: true }));
  };
  give();
});
