// A reminder when a reading is due: off until it is switched on, by sound and by a flash.
"use strict";

const REMIND = "drift-remind";
const ASK_SECONDS = 20;
let remindTimer = 0;
let remindSound = null;
let remindedOf = "";

function remindShow(text, due) {
  if (by("due").textContent !== text) by("due").textContent = text;
  by("due").classList.toggle("now", due);
}

async function askDue() {
  clearTimeout(remindTimer);
  if (!by("remind").checked) return;
  try {
    const asked = new URLSearchParams({ player: seat.player, instrument: seat.instrument });
    const reply = await (await fetch(`/parts/due?${asked}`)).json();
    const due = reply.seconds !== null && reply.seconds <= 0;
    remindShow(reply.text, due);
    if (due && remindedOf !== reply.text) ring();
    remindedOf = due ? reply.text : "";
  } catch { /* the server is away: it is asked again */ }
  remindTimer = setTimeout(askDue, ASK_SECONDS * 1000);
}

// Two soft notes; a page may sound only after it was touched.
function ring() {
  document.querySelector(".enter").animate([{ background: "var(--press)" }, { background: "transparent" }],
    { duration: 900, iterations: matchMedia("(prefers-reduced-motion: reduce)").matches ? 1 : 3 });
  if (!remindSound) return;
  for (const [late, hertz] of [[0, 660], [0.25, 880]]) {
    const tone = remindSound.createOscillator(), loud = remindSound.createGain();
    const at = remindSound.currentTime + late;
    tone.frequency.value = hertz;
    loud.gain.setValueAtTime(0.15, at);
    loud.gain.exponentialRampToValueAtTime(0.001, at + 0.2);
    tone.connect(loud).connect(remindSound.destination);
    tone.start(at);
    tone.stop(at + 0.2);
  }
}

by("remind").addEventListener("change", () => {
  try { localStorage.setItem(REMIND, by("remind").checked ? "on" : ""); } catch { /* for this page only */ }
  if (by("remind").checked && !remindSound && window.AudioContext) remindSound = new AudioContext();
  remindShow("", false);
  askDue();
});

try { by("remind").checked = localStorage.getItem(REMIND) === "on"; } catch { /* off */ }
document.addEventListener("drift-seat", askDue);
askDue();
