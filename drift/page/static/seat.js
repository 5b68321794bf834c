// On every page: the slides open for the player and the instrument of this browser.
"use strict";

function slidesOf(seat) {
  const asked = new URLSearchParams();
  for (const name of ["player", "instrument"]) if (seat[name]) asked.set(name, seat[name]);
  const link = document.querySelector('nav a[href^="/slides"]');
  if (link) link.href = asked.size ? `/slides?${asked}` : "/slides";
}

// Numbers and notes are shown as the player of this browser chose, on pages that do not change as well.
function readAs(seat) {
  const { units, typed } = document.body.dataset;
  if (!units) return;
  const own = (of) => JSON.parse(of)[seat.player] || JSON.parse(of)[""];
  const shown = document.getElementById("main").classList;
  shown.toggle("fahrenheit", own(units).startsWith("F"));
  shown.toggle("inches", own(units).endsWith("inch"));
  shown.toggle("written", own(typed) === "written");
}

function seatKept() {
  try {
    return JSON.parse(localStorage.getItem(`drift-seat:${document.body.dataset.book}`)) || {};
  } catch { return {}; } // no storage: the slides ask
}

slidesOf(seatKept());
readAs(seatKept());
