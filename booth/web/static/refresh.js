// Keeps a part of a page fresh, and says OLD in large letters when it can't: what stands there is then marked, never shown as if live.
"use strict";

(() => {
  const part = document.querySelector("[data-refresh]");
  if (!part) return;
  const notice = document.getElementById("old");
  const EVERY_MS = 2000;
  const OLD_AFTER_MS = 4000; // so that it is said within five seconds of the last word
  let heard = performance.now(); // which nobody can set back

  function old(is) {
    part.classList.toggle("is-old", is);
    if (notice.hidden === is) notice.hidden = !is;
  }

  // Whoever stands on a button with the keyboard stays on it.
  function put(text) {
    if (text === part.dataset.text) return;
    const standing = part.contains(document.activeElement) ? document.activeElement.id : "";
    const open = [...part.querySelectorAll("details[open]")].map((one) => one.id);
    part.innerHTML = text;
    part.dataset.text = text;
    open.forEach((id) => { if (id) document.getElementById(id)?.setAttribute("open", ""); });
    if (standing) document.getElementById(standing)?.focus();
  }

  async function look() {
    const stop = new AbortController();
    const asked = performance.now(); // what is answered is as old as the question
    const timer = setTimeout(() => stop.abort(), 4000);
    try {
      const answer = await fetch(part.dataset.refresh, { signal: stop.signal, redirect: "error" });
      if (answer.ok) {
        put(await answer.text());
        heard = asked;
      }
    } catch (problem) {
      // Silence is told below, whatever its reason.
    }
    clearTimeout(timer);
    setTimeout(look, Math.max(200, EVERY_MS - (performance.now() - asked)));
  }

  setInterval(() => old(performance.now() - heard > OLD_AFTER_MS), 500);
  setTimeout(look, EVERY_MS);
})();
