// The painter's page stays true by itself: a stream brings the live part anew each second, and silence is said as OLD.
// Without this script the page is read all the same, and brings itself up to date by loading anew.
"use strict";

const OLD_AFTER_MS = 4000; // so that it is said within five seconds of the last word
const AGAIN_MS = 2000;

const page = document.documentElement;
const live = document.getElementById("live");
const old = document.getElementById("old");
let heard = performance.now();
let stream = null;

// ---- the live part, changed in place: a button under a finger stays the same button, or goes; it never becomes another

const keyOf = (node) => (node.dataset ? node.dataset.key : undefined);

function change(before, after) {
  if (before.nodeType !== after.nodeType || before.nodeName !== after.nodeName || keyOf(before) !== keyOf(after)) {
    before.replaceWith(after);
  } else if (before.nodeType === Node.TEXT_NODE) {
    if (before.data !== after.data) before.data = after.data;
  } else {
    for (const { name } of [...before.attributes]) {
      if (!after.hasAttribute(name) && name !== "open") before.removeAttribute(name);
    }
    for (const { name, value } of [...after.attributes]) {
      if (before.getAttribute(name) !== value) before.setAttribute(name, value);
    }
    changeChildren(before, after);
  }
}

function changeChildren(before, after) {
  const wanted = [...after.childNodes];
  const keyed = new Map([...before.children].filter(keyOf).map((node) => [keyOf(node), node]));
  wanted.forEach((fresh, index) => {
    const same = keyOf(fresh) && keyed.get(keyOf(fresh));
    const there = before.childNodes[index];
    if (same && same !== there) before.insertBefore(same, there || null);
    const now = before.childNodes[index];
    if (!now) before.append(fresh);
    else if (keyOf(now) !== keyOf(fresh) && keyOf(now)) before.insertBefore(fresh, now);
    else change(now, fresh);
  });
  while (before.childNodes.length > wanted.length) before.lastChild.remove();
}

function show(html) {
  const fresh = document.createElement("template");
  fresh.innerHTML = html.trim();
  const board = fresh.content.firstElementChild;
  live.querySelector(".board") ? change(live.querySelector(".board"), board) : live.append(board);
  sound.hear(JSON.parse(live.querySelector(".board").dataset.sounding));
}

// ---- old: said when nothing has come for some seconds, whatever the reason

function tellOld() {
  const late = performance.now() - heard > OLD_AFTER_MS;
  if (late === !old.hidden) return;
  old.hidden = !late;
  page.classList.toggle("is-old", late);
  if (late) {
    const text = document.getElementById("old-text");
    const shown = live.querySelector("time");
    text.textContent = text.dataset.text.replace("{time}", shown ? shown.dataset.at : "–");
    document.getElementById("announce").textContent = old.textContent;
  }
}

function follow() {
  if (stream) stream.close();
  stream = new EventSource(live.dataset.stream);
  stream.onmessage = (event) => {
    heard = performance.now();
    show(JSON.parse(event.data).html);
    page.classList.add("is-followed");
    tellOld();
  };
  stream.onerror = () => {
    if (stream.readyState === EventSource.CLOSED) setTimeout(follow, AGAIN_MS); // refused: it doesn't try again by itself
  };
}

// ---- sound: after the first touch, for alarms that want it, until acknowledged or silenced; a new one sounds again

const sound = {
  context: null,
  wanted: [],
  silenced: new Set(),
  told: new Set(),
  button: document.getElementById("sound"),
  mute: document.getElementById("mute"),

  hear(tokens) {
    this.wanted = tokens;
    const fresh = tokens.filter((token) => !this.told.has(token));
    if (fresh.length) {
      const phrase = live.querySelector(".notice h3");
      document.getElementById("announce").textContent = phrase ? phrase.textContent : "";
      scrollTo(0, 0); // whoever has scrolled must see it too
    }
    this.told = new Set(tokens);
    this.silenced = new Set([...this.silenced].filter((token) => tokens.includes(token)));
    this.mute.hidden = !this.sounding();
    page.classList.toggle("is-sounding", this.sounding());
  },
  sounding() {
    return this.wanted.some((token) => !this.silenced.has(token));
  },
  turnOn() {
    if (this.context) return;
    this.context = new AudioContext();
    this.button.hidden = true;
    setInterval(() => this.beat(), 1000);
  },
  beat() {
    if (!this.sounding()) return;
    [880, 660].forEach((pitch, index) => {
      const start = this.context.currentTime + index * 0.25;
      const tone = new OscillatorNode(this.context, { type: "square", frequency: pitch });
      const loudness = new GainNode(this.context, { gain: 0.4 });
      tone.connect(loudness).connect(this.context.destination);
      tone.start(start);
      tone.stop(start + 0.2);
    });
  },
};

sound.button.hidden = false;
sound.mute.addEventListener("click", () => {
  sound.wanted.forEach((token) => sound.silenced.add(token));
  sound.hear(sound.wanted);
});
addEventListener("pointerdown", () => sound.turnOn(), { once: true });
addEventListener("keydown", () => sound.turnOn(), { once: true });

// ---- acts: sent without leaving the page, so that the sound stays on; if that fails, the page says so

document.getElementById("acts").addEventListener("submit", async (event) => {
  event.preventDefault();
  const { submitter, target } = event;
  const said = document.getElementById("said");
  const body = new URLSearchParams(new FormData(target, submitter));
  if (submitter) submitter.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(target.action, { method: "POST", body, headers: { Accept: "application/json" } });
    const told = answer.ok ? null : answer.status === 401 ? said.dataset.out : said.dataset.kept.replace("{why}", await reason(answer));
    said.hidden = told === null;
    said.textContent = told || "";
    if (answer.ok && submitter && submitter.closest(".stranger")) location.assign(target.action);
    scrollTo(0, 0); // the next alarm stands there
  } catch {
    said.hidden = false;
    said.textContent = said.dataset.kept.replace("{why}", old.querySelector("strong").textContent);
  }
  if (submitter) submitter.removeAttribute("aria-busy");
});

async function reason(answer) {
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  const told = fresh.querySelector("main .message");
  return told ? told.textContent : String(answer.status);
}

// ---- a scanner types wherever the focus is: its characters belong into the van's field

addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, select, textarea");
  if (!typing && event.key.length === 1 && event.key !== " " && !event.ctrlKey && !event.metaKey && !event.altKey) {
    document.getElementById("van").focus();
  }
});

addEventListener("pageshow", () => follow());
addEventListener("pagehide", () => stream && stream.close());
setInterval(tellOld, 500);
