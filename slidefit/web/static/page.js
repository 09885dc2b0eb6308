"use strict";
/* The page works without this: it refreshes the answer while the plan changes, and says what takes a while. */
(function () {
  for (const each of document.querySelectorAll("form[data-busy]")) {
    each.addEventListener("submit", function () {
      const told = document.createElement("p");
      told.setAttribute("role", "status");
      told.textContent = each.dataset.busy;
      each.append(told);
    });
  }
})();

(function () {
  const form = document.getElementById("plan");
  const answer = document.getElementById("answer");
  if (!form || !answer) return;
  const bar = document.getElementById("bar");
  let waiting = 0;
  let latest = 0;

  function query() {
    const out = new URLSearchParams();
    for (const [name, value] of new FormData(form)) {
      if (typeof value === "string" && value.trim() !== "") out.append(name, value);
    }
    return out.toString();
  }

  async function part(address) {
    const response = await fetch(address, { headers: { Accept: "text/html" } });
    return { text: await response.text(), plan: response.headers.get("X-Plan"), good: response.ok };
  }

  async function later(mine) {
    const place = answer.querySelector("[data-later]");
    if (!place) return;
    const found = await part(place.dataset.later);
    if (mine === latest && found.good) place.innerHTML = found.text;
  }

  async function refresh() {
    const mine = ++latest;
    const open = Array.from(answer.querySelectorAll("details"), (each) => each.open);
    answer.setAttribute("aria-busy", "true");
    try {
      const found = await part("/decide/answer?" + query());
      if (mine !== latest) return;
      answer.innerHTML = found.text;
      const short = document.getElementById("short");
      if (bar) bar.textContent = short ? short.textContent : "No answer yet";
      if (found.plan !== null) history.replaceState(null, "", "/decide?" + found.plan);
      const now = answer.querySelectorAll("details");
      if (now.length === open.length) now.forEach((each, place) => { each.open = open[place]; });
      await later(mine);
    } catch (fault) {
      if (mine === latest) form.classList.add("stale");
    } finally {
      if (mine === latest) answer.setAttribute("aria-busy", "false");
    }
  }

  form.addEventListener("input", function () {
    window.clearTimeout(waiting);
    waiting = window.setTimeout(refresh, 250);
  });
  form.addEventListener("submit", function (event) {
    if (event.submitter && event.submitter.name === "do") return;
    event.preventDefault();
    window.clearTimeout(waiting);
    refresh();
  });
})();
