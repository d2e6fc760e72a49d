// Keeps a part of a page fresh, and says OLD in large letters when it can't: what stands there is then marked, never shown as if live.
"use strict";

(() => {
  const part = document.querySelector("[data-refresh]");
  if (!part) return;
  const notice = document.getElementById("old");
  const EVERY_MS = 2000;
  const OLD_AFTER_MS = 5000;
  let heard = Date.now();

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
    const timer = setTimeout(() => stop.abort(), 4000);
    try {
      const answer = await fetch(part.dataset.refresh, { signal: stop.signal, redirect: "error" });
      if (answer.ok) {
        put(await answer.text());
        heard = Date.now();
      }
    } catch (problem) {
      // Silence is told below, whatever its reason.
    }
    clearTimeout(timer);
    setTimeout(look, EVERY_MS);
  }

  setInterval(() => old(Date.now() - heard > OLD_AFTER_MS), 500);
  setTimeout(look, EVERY_MS);
})();
