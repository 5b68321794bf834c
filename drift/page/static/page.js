// The page on the stand. An entry stays in this browser until the server says it is on the disk.
"use strict";

const main = document.getElementById("main");
const { book, rehearsal } = main.dataset;
const by = (id) => document.getElementById(id);
const [note, cents, answer] = [by("note"), by("cents"), by("answer")];

// -- who sits here: the player and the instrument of this browser's entries --------------------

const SEAT = `drift-seat:${book}`;
const stored = (key) => { try { return JSON.parse(localStorage.getItem(key)) || {}; } catch { return {}; } };
const seat = { player: by("player").value, instrument: by("instrument").value, side: "", ...stored(SEAT) };

function sit(change) {
  Object.assign(seat, change);
  try { localStorage.setItem(SEAT, JSON.stringify(seat)); } catch { /* it is lost with the page */ }
  by("player").value = seat.player;
  by("instrument").value = seat.instrument;
  const horn = by("instrument").selectedOptions[0];
  const listed = (what) => (horn && horn.dataset[what] ? horn.dataset[what].split("|") : []);
  fill(by("which"), listed("slides").map((name) => new Option(flats(name), name)));
  fill(by("notes"), listed(showTyped()).map((name) => new Option(name)));
  const sides = listed("sides").filter(Boolean);
  by("sides").hidden = sides.length === 0;
  if (!sides.includes(seat.side)) seat.side = sides.find((side) => side === lastSides()[sideKey("")]) || "";
  const choices = element("div", "choices", ...sides.map(sideChoice));
  fill(by("sides"), [by("sides").firstElementChild, choices]);
  by("slide").hidden = listed("slides").length === 0;
  slidesOf(seat);
  nameUndo();
  choose();
  showUnits();
  drawCharts();
  document.dispatchEvent(new Event("drift-seat"));
}

// Numbers are shown in the units of the player who sits here, and typed in them.
let units = JSON.parse(main.dataset.units);

function showUnits() {
  const own = units[seat.player] || units[""];
  main.classList.toggle("fahrenheit", own.startsWith("F"));
  main.classList.toggle("inches", own.endsWith("inch"));
  return own;
}

// So are notes: sounding, or as the player reads them.
let typed = JSON.parse(main.dataset.typed);

function showTyped() {
  const own = typed[seat.player] || typed[""];
  main.classList.toggle("written", own === "written");
  return own;
}

function sideChoice(side) {
  const box = Object.assign(document.createElement("input"), { type: "radio", name: "side", value: side });
  box.checked = side === seat.side;
  box.addEventListener("change", () => { sideChosen = true; sit({ side }); });
  return element("label", "", box, flats(side), element("span", "unseen", " side"));
}

// Each note's last side stands ready for whoever played it there, unless one was chosen for it.
let sideChosen = false;
const SIDES = `drift-sides:${book}`;
const lastSides = () => stored(SIDES);
const sideKey = (name) => [seat.player, seat.instrument, name.toUpperCase()].join("|");

function rememberSide(name) {
  sideChosen = false;
  const last = { ...lastSides(), [sideKey(name)]: seat.side, [sideKey("")]: seat.side };
  try { localStorage.setItem(SIDES, JSON.stringify(last)); } catch { /* it is asked again */ }
}

let noteTyped = 0;
note.addEventListener("input", () => { noteTyped = Date.now(); });
note.addEventListener("change", () => {
  const side = lastSides()[sideKey(note.value.trim())];
  if (side && !sideChosen && !by("sides").hidden) sit({ side });
});

// -- entries: they wait here, sent in their order, dropped when answered -----------------------------

const PLACE = `drift-entry:${book}:`;
const here = new Map(); // what a browser without storage can do
let sending = false;
let again = 0;
const FAILS_AT_MOST = 5;
const failures = new Map(); // how often the program failed at an entry; reloading the page tries again
const givenUp = (entry) => (failures.get(entry.once) || 0) >= FAILS_AT_MOST;

function waiting() {
  const entries = new Map(here);
  try {
    for (const key of Object.keys(localStorage).filter((key) => key.startsWith(PLACE)))
      entries.set(key, stored(key));
  } catch { /* no storage */ }
  return [...entries.values()].filter((entry) => entry.once).sort((a, b) => a.typed - b.typed);
}

let lastTyped = 0;
let lastOnce = "";
let lastSeat = "";
const seatNow = () => `${seat.player}|${seat.instrument}`;

function keep(line, more) {
  const once = Array.from(crypto.getRandomValues(new Uint8Array(16)), (b) => b.toString(16).padStart(2, "0")).join("");
  const { player, instrument } = seat;
  const side = by("sides").hidden ? "" : seat.side;
  lastTyped = Math.max(Date.now(), lastTyped + 1); // no two at one moment: they keep their order
  const entry = { line, once, after: lastOnce, rehearsal, player, instrument, side, typed: lastTyped, ...more };
  lastOnce = once;
  lastSeat = seatNow();
  try { localStorage.setItem(PLACE + once, JSON.stringify(entry)); } catch { here.set(PLACE + once, entry); }
  setTimeout(showUnsent, 600);
  send();
}

function drop(entry) {
  here.delete(PLACE + entry.once);
  try { localStorage.removeItem(PLACE + entry.once); } catch { /* no storage */ }
}

async function send() {
  if (sending) return;
  sending = true;
  clearTimeout(again);
  const tried = new Set();
  try {
    for (let entry; (entry = waiting().find((one) => !tried.has(one.once) && !givenUp(one))); ) {
      tried.add(entry.once);
      const { typed, ...rest } = entry;
      const response = await fetch("/entries", {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ ...rest, waited_seconds: Math.max(0, Date.now() - typed) / 1000 }),
        signal: AbortSignal.timeout(15000),
      });
      if (response.status === 403) say("This device is not signed in (or no longer). Open the address shown by the program; your entries are waiting here.", true);
      if (response.status >= 500) failures.set(entry.once, (failures.get(entry.once) || 0) + 1);
      if (!response.ok) continue;
      const reply = await response.json();
      drop(entry);
      if (by("unsent").firstChild) showUnsent();  // the next may be long on its way
      answered(entry, reply);
    }
  } catch { /* the server is away: the entries wait */ }
  sending = false;
  showUnsent();
  if (waiting().some((entry) => !givenUp(entry))) again = setTimeout(send, 2000);
}

function answered(entry, reply) {
  if (reply.asks === "help") {
    say("");
    by("help").open = true;
    return by("help").scrollIntoView();
  }
  if (!reply.saved && !reply.asks) say(`${entry.line}: ${reply.text}`, true);
  else if (entry.typed > asked) say(reply.text);
  if (reply.asks === "target") answer.scrollIntoView({ block: "center" });
  markDecided();
  if (PROPOSAL.test(entry.line)) return;
  // What was refused goes back where it can be put right, unless the next is being typed already.
  if (!reply.saved && !reply.asks && !cents.value && noteTyped < entry.typed && entry.line.startsWith(note.value)) {
    note.value = entry.line;
    note.select();
  }
  const asBefore = entry.player === seat.player && entry.instrument === seat.instrument;
  if (reply.saved && asBefore && /^(player|instrument|side)\s/i.test(entry.line)) {
    const { player, instrument, side } = reply;
    sit({ player, instrument, side: side || (player === seat.player ? seat.side : "") });
  }
}

// An answer to what was typed before a side was asked for does not take the place of the question.
let asked = 0;

function askSide() {
  asked = Date.now();
  say("Choose the side the note was played on.", true);
  by("sides").querySelector("input").focus();
}

function say(text, refusal) {
  answer.classList.toggle("refusal", Boolean(refusal));
  answer.textContent = text.replace(/(^|[\s(])-(?=\d)/g, "$1−");
}

function showUnsent() {
  const entries = waiting();
  if (!entries.length) return fill(by("unsent"), []);
  const lines = entries.map((entry) => element("li", "", `${entry.line} (${entry.player || "no player"}, typed ${new Date(entry.typed).toTimeString().slice(0, 5)})`));
  fill(by("unsent"), [
    element("p", "refusal", entries.some(givenUp)
      ? "Not saved yet. The program failed at the first of these; see its window. They wait in this browser and are sent again when the page is loaded again:"
      : "Not saved yet. These wait in this browser and are sent when the program answers:"),
    element("ul", "", ...lines),
  ]);
}

// -- what happens in the room --------------------------------------------------------------------

let stream, heard = Date.now();

function listen() {
  if (stream) stream.close();
  stream = new EventSource("/events");
  heard = Date.now();
  stream.addEventListener("open", () => { heard = Date.now(); present(true); send(); });
  stream.addEventListener("beat", () => { heard = Date.now(); });
  stream.addEventListener("told", (event) => { heard = Date.now(); present(true); show(JSON.parse(event.data)); });
  stream.addEventListener("error", () => present(false));
}

function present(is) {
  const words = is ? "connected" : "the program does not answer; entries wait in this browser";
  if (by("line").textContent !== words) by("line").textContent = words; // read aloud once
  by("line").classList.toggle("away", !is);
}

// A stream that was closed for good, or fell silent without being closed, is opened anew.
setInterval(() => {
  if (stream.readyState === EventSource.CLOSED || Date.now() - heard > 35000) { present(false); listen(); }
}, 3000);

function show(told) {
  if (told.rehearsal !== undefined && told.rehearsal !== rehearsal) return location.reload();
  if (told.units !== undefined) {
    const before = showUnits();
    units = told.units;
    if (showUnits() !== before) drawCharts();
  }
  if (told.typed !== undefined) {
    const before = showTyped();
    typed = told.typed;
    if (showTyped() !== before) sit({});
  }
  for (const [region, html] of Object.entries(told.regions || {})) {
    const place = document.querySelector(`[data-region="${region}"]`);
    if (!place) continue;
    const { undo: at, decide: word } = place.contains(document.activeElement) ? document.activeElement.dataset : {};
    place.innerHTML = html; // made by the server's templates, every text in it escaped
    if (at) (place.querySelector(`[data-undo="${at}"]`) || note).focus();
    if (word) (place.querySelector(`[data-decide="${word}"]`) || by("main")).focus();
  }
  markDecided();
  if (told.regions && told.regions.standing) { choose(); announceMoves(); }
  if (told.charts !== undefined) drawCharts(told.charts);
  nameUndo();
  document.dispatchEvent(new Event("drift-shown"));
}

// Read aloud when a move changes or was worked out anew, not each time that a minute has passed.
function announceMoves() {
  const chosen = document.querySelector("[data-region=standing] article.chosen");
  const working = chosen && chosen.querySelector(".working");
  const lines = working ? [working] : chosen ? [...chosen.querySelectorAll(".surprise, .large")] : [];
  const words = lines.map((line) => line.textContent).join(" ");
  if (by("moves").textContent !== words) by("moves").textContent = words;
}

// Of several players one is shown large: the one that was touched, else the one of this browser.
let shownPlayer = "";

function choose() {
  const all = [...document.querySelectorAll("[data-region=standing] article")];
  const of = (name) => all.find((one) => one.dataset.player === name);
  const chosen = of(shownPlayer) || of(seat.player) || all[0];
  for (const one of all) {
    one.classList.toggle("chosen", one === chosen);
    const button = one.querySelector("[data-choose]");
    if (button) button.setAttribute("aria-expanded", String(one === chosen));
  }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-choose]");
  if (!button) return;
  shownPlayer = button.closest("article").dataset.player;
  choose();
});

let chartVersion;

// A new picture takes the place of the old one when it is ready: nothing flashes.
async function drawCharts(version) {
  if (version !== undefined) chartVersion = version;
  if (chartVersion === undefined) return;
  const asked = new URLSearchParams({ version: chartVersion, player: seat.player, instrument: seat.instrument, units: showUnits(), notes: showTyped() });
  if (matchMedia("(max-width: 30rem)").matches) asked.set("narrow", "1"); // letters as large on a telephone
  for (const picture of document.querySelectorAll("img[data-chart]")) {
    const next = picture.cloneNode();
    next.src = `/charts/${picture.dataset.chart}.svg?${asked}`;
    next.decode().then(() => { next.hidden = false; }, () => { next.hidden = true; }).then(() => {
      if (picture.isConnected) picture.replaceWith(next);
    });
  }
  for (const place of document.querySelectorAll("[data-part]"))
    fetch(`/parts/${place.dataset.part}?${asked}`).then((answer) => (answer.ok ? answer.text() : ""))
      .then((html) => { if (html) place.innerHTML = html; }, () => { /* the server is away */ });
}

function nameUndo() {
  // The last that was entered here, which may be of an earlier time than others.
  const rows = [...document.querySelectorAll("tr[data-entry]:not([data-imported])")].sort((a, b) => b.dataset.entry - a.dataset.entry);
  const row = rows.find((one) => one.dataset.player === seat.player) || rows.find((one) => !one.dataset.player);
  by("undo").disabled = !row;
  by("undo").dataset.undo = row ? row.dataset.entry : "";
  by("undo").textContent = row ? `Undo: ${row.dataset.words}` : "Nothing to undo";
}

// -- what the microphone heard: each proposed reading is kept or dropped once ---------------------

const PROPOSAL = /^[kd] (\d+)/;
let decidedAt = -Infinity;

function decide(row, word) {
  if (!row) return;
  const sided = word === "k" && !by("sides").hidden;
  if (sided && !seat.side) return askSide();
  keep(`${word} ${row.dataset.heard}${sided ? ` ${seat.side}` : ""}`);
  markDecided();
}

// What was said of a proposal waits for its answer: it is not said twice.
function markDecided() {
  const said = waiting().map((entry) => (PROPOSAL.exec(entry.line) || [])[1]);
  for (const row of document.querySelectorAll("[data-heard]")) {
    row.classList.toggle("said", said.includes(row.dataset.heard));
    for (const button of row.querySelectorAll("button")) button.disabled = row.classList.contains("said");
  }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-decide]");
  // The next proposal moves under the finger: a second tap must not decide on that as well.
  if (!button || tappedAgain(event, decidedAt, 600)) return;
  decidedAt = event.timeStamp;
  decide(button.closest("[data-heard]"), button.dataset.decide);
});

document.addEventListener("keydown", (event) => {
  const field = event.target.closest("input:not([type=radio], [type=checkbox]), select, textarea");
  if (event.key === "Escape" && field) field.blur();
  if (field || event.repeat || event.ctrlKey || event.metaKey || event.altKey) return;
  const word = event.key.toLowerCase();
  if (word === "k" || word === "d") decide(document.querySelector("[data-heard]:not(.said)"), word);
});

// -- hands on the page -----------------------------------------------------------------------------

const sides = () => [...by("sides").querySelectorAll("input")].map((box) => box.value.toLowerCase());
const isSide = (word) => sides().includes(word.toLowerCase().replace("♭", "b"));
const isReading = (line) => /^([a-h][a-z#♯♭]*-?\d|[-+−]?\d)/i.test(line);
// A reading without a side is of no use on an instrument with two: it is asked for before it is sent.
const lacksSide = (line) => !by("sides").hidden && !seat.side && isReading(line) && !line.replace(/!.*/, "").split(/\s+/).some(isSide);
const whole = (text) => isSide(text) || /\s/.test(text) || /^(undo|now|help|end|play|rest|[-+−].*|[a-g].*\d[-+−].*)$/i.test(text);
const point = (text) => text.replace(/(\d),(\d)/g, "$1.$2");

by("reading").addEventListener("submit", (event) => {
  event.preventDefault();
  const first = note.value.trim();
  const second = whole(first) ? "" : point(cents.value.trim());  // a whole line stands by itself
  if (!first) return note.focus();
  if (!second && !whole(first)) return cents.focus();
  // It is for what was typed before it, which may still be on its way; else for what stands on the button.
  if (!second && /^undo$/i.test(first))
    keep("undo", { entry: Number(by("undo").dataset.undo), after: lastSeat === seatNow() ? lastOnce : "" });
  else if (lacksSide(second ? `${first} ${second}` : first)) return askSide();
  else if (!second) keep(point(first));
  else {
    const side = by("sides").hidden || /\s/.test(second) ? "" : ` ${seat.side}`;
    if (side) rememberSide(first);
    keep(`${first} ${second}${side}${by("otherwise").checked ? " !" : ""}`);
  }
  cents.value = "";
  by("otherwise").checked = false;
  if (!second) note.value = "";
  note.focus();
  note.select();
});

by("turn").addEventListener("click", () => {
  const value = cents.value.trim();
  cents.value = /^[-−]/.test(value) ? value.slice(1) : `−${value.replace(/^\+/, "")}`;
  cents.focus();
});

for (const [form, field, line] of [
  ["slide", "millimetres", (mm) => `slide ${by("which").value} ${mm}`],
  ["typed", "degrees", (degrees) => `temp ${degrees}`],
  ["remark", "words", (words) => `remark ${words}`],
])
  by(form).addEventListener("submit", (event) => {
    event.preventDefault();
    const value = by(field).value.trim();
    if (value) keep(line(form === "remark" ? value : point(value)));
    by(field).value = "";
    by(field).focus();
  });

by("target").addEventListener("submit", (event) => {
  event.preventDefault();
  const [at, degrees] = [by("playing-at").value.trim(), point(by("playing-degrees").value.trim())];
  if (!at) return by("playing-at").focus();
  if (!degrees) return by("playing-degrees").focus();
  keep(`target ${at} ${degrees}`);
});

// A second tap is known by its count or by when the finger came down, however late a busy
// machine handles it.
const tappedAgain = (event, before, milliseconds) => event.detail > 1 || (event.detail > 0 && event.timeStamp - before < milliseconds);
let undone = -Infinity;

document.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-line], button[data-undo]");
  if (!button || button.disabled) return;
  // The next entry moves under the finger: a second tap must not take that back as well.
  if (button.dataset.undo && tappedAgain(event, undone, 1000)) return goOn();
  if (button.dataset.line) keep(button.dataset.line);
  else keep("undo", { entry: Number(button.dataset.undo), after: "" });
  if (button.dataset.undo) undone = event.timeStamp;
  goOn();
});

by("seat").addEventListener("submit", (event) => event.preventDefault());
by("player").addEventListener("change", () => {
  // Nobody takes over the instrument of another: the answer brings back the player's own.
  const player = by("player").value.trim();
  sit({ player, instrument: seat.player && player !== seat.player ? "" : seat.instrument });
  if (player) keep(`player ${player}`);
});
by("instrument").addEventListener("change", () => sit({ instrument: by("instrument").value }));
document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });

// -- small things -----------------------------------------------------------------------------------

function element(tag, look, ...content) {
  const made = document.createElement(tag);
  if (look) made.className = look;
  made.append(...content);
  return made;
}

// Back to the keys; not on a touch screen, where that would bring up its keyboard.
function goOn() { if (!matchMedia("(pointer: coarse)").matches) note.focus({ preventScroll: true }); }

function fill(place, content) { place.replaceChildren(...content); }
function flats(text) { return text.replace(/^([A-G]{1,2})b$/, "$1♭").replace(/^([A-G]{1,2})b(?= )/, "$1♭"); }

// A chart that has nothing to draw yet comes without content, and takes no room.
for (const picture of document.querySelectorAll("img[data-chart]")) {
  const show = () => { picture.hidden = !picture.naturalWidth; };
  picture.addEventListener("load", show);
  picture.addEventListener("error", show);
  if (picture.complete) show();
}

sit({});
showUnsent();
listen();
goOn();
