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
      "<span>This page has lost coilwise. Every whole take is kept in the job's folder.</span>" +
      "<span>It goes on by itself as soon as coilwise answers; if it was ended, start coilwise page again.</span>";
  }
});
