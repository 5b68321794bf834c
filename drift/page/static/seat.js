// On every page: the slides open for the player and the instrument of this browser.
"use strict";

function slidesOf(seat) {
  const asked = new URLSearchParams();
  for (const name of ["player", "instrument"]) if (seat[name]) asked.set(name, seat[name]);
  const link = document.querySelector('nav a[href^="/slides"]');
  if (link) link.href = asked.size ? `/slides?${asked}` : "/slides";
}

try {
  slidesOf(JSON.parse(localStorage.getItem(`drift-seat:${document.body.dataset.book}`)) || {});
} catch { /* no storage: the slides ask */ }
