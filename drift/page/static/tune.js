// Tuning step by step: this browser's player answers, everyone sees it.
"use strict";

const tuneForm = by("tune-step");
const tuneSay = (text) => { by("tune-reply").textContent = text; by("tune-reply").classList.toggle("refusal", Boolean(text)); };

let tuneBegun = false;

// The step of the player who sits here; those of others are not in the way.
function showTuning() {
  let own = null;
  for (const one of document.querySelectorAll("[data-region=tuning] article")) {
    const mine = one.dataset.player === seat.player && one.dataset.instrument === seat.instrument;
    one.hidden = !mine;
    if (mine) own = one;
  }
  const running = own !== null && own.dataset.over === undefined;
  const typed = running && own.dataset.field !== "";
  tuneForm.hidden = by("tune-more").hidden = !running;
  tuneForm.dataset.step = running ? own.dataset.step : "";
  by("tune-begin").hidden = running;
  const kind = by("instrument").selectedOptions[0];
  by("tune-valves").closest("label").hidden = !kind || kind.dataset.valves === undefined;
  by("tune-answer").closest(".field").hidden = !typed;
  if (!running) return;
  by("tune-label").textContent = own.dataset.field;
  tuneForm.querySelector("button").textContent = own.dataset.optional === undefined ? "Next" : "Done";
  if (tuneBegun) by("tune-answer").focus(); // the keys go to the step as soon as it is shown
  tuneBegun = false;
}

async function tune(sent) {
  tuneSay("");
  try {
    const response = await fetch("/tune", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ player: seat.player, instrument: seat.instrument, ...sent }),
      signal: AbortSignal.timeout(60000),
    });
    const reply = response.ok ? await response.json() : { told: "not saved; load the page again" };
    if (reply.told) tuneSay(reply.told); // an answer that came late does not clear a later refusal
    return !reply.told;
  } catch {
    tuneSay("The program does not answer: nothing of this step is saved yet.");
    return false;
  }
}

tuneForm.addEventListener("submit", (event) => {
  event.preventDefault();
  // Emptied at once, so that the next answer can be typed; what was refused comes back.
  const field = by("tune-answer"), line = point(field.value.trim());
  field.value = "";
  field.focus();
  tune({ step: Number(tuneForm.dataset.step), line }).then((taken) => {
    if (!taken && !field.value) field.value = line;
  });
});

by("tune-more").addEventListener("click", (event) => {
  const button = event.target.closest("button[data-tune]");
  if (!button) return;
  by("tune-answer").focus();
  tune({ step: Number(tuneForm.dataset.step), line: button.dataset.tune });
});

by("tune-begin").addEventListener("submit", async (event) => {
  event.preventDefault();
  tuneBegun = true;
  if (!(await tune({ class_note: by("class-note").value, valves: by("tune-valves").checked }))) tuneBegun = false;
});

document.addEventListener("drift-shown", showTuning);
document.addEventListener("drift-seat", showTuning);
showTuning();
