"use strict";
/* Keep or sell: the answer follows the plan; errors stand beside their fields; nothing typed is lost. */
(function () {
  const KEY = "slidefit-plan", { by, store, kept } = page;

  const start = by("start");
  if (start) {
    const draft = kept(localStorage, KEY);
    if (new URLSearchParams(location.search).has("new")) store(localStorage, KEY, null);
    else if (draft && !start.dataset.problem) location.replace("/decide?" + draft);
    return;
  }
  const form = by("plan");
  if (!form) return;
  const touched = new Set();
  let waiting = 0, latest = 0, look = new URLSearchParams(location.search).get("look") || "";
  const query = () => page.query(form);
  const draft = page.draft(KEY, by("undo"), (before) => location.assign("/decide?" + before));
  function tell(name, text) {
    const line = by("e-" + name), field = by("f-" + name);
    if (!line) return false;
    line.textContent = text;
    line.hidden = !text;
    if (field) {
      field.closest(".f").classList.toggle("bad", Boolean(text));
      if (text) field.setAttribute("aria-invalid", "true"); else field.removeAttribute("aria-invalid");
    }
    return true;
  }
  function errors(problems) {
    for (const line of form.querySelectorAll(".err")) {
      const name = line.id.slice(2);
      if (!(name in problems) && !line.hidden) tell(name, "");
    }
    for (const [name, text] of Object.entries(problems)) {
      const field = by("f-" + name), empty = field && field.value.trim() === "";
      tell(name, empty ? (touched.has(name) ? "Needed for the answer." : "") : text);
    }
  }
  function stale(found) {
    const box = by("stale"), names = Object.keys(found.problems), was = by("shown").childElementCount > 0;
    box.replaceChildren();
    box.hidden = names.length === 0 && found.fault.length === 0;
    by("shown").classList.toggle("was", !box.hidden && found.answer === null);
    if (box.hidden) return;
    const head = document.createElement("p"), strong = document.createElement("strong");
    strong.textContent = found.answer !== null ? "Not all groups are in the answer yet." : was ? "The answer is from before your last change." : "The answer comes once this is filled in.";
    head.append(strong, " ");
    box.append(head);
    for (const name of names.slice(0, 3)) {
      const field = by("f-" + name), link = document.createElement("a");
      if (!field) continue;
      link.href = "#f-" + name;
      link.textContent = field.closest(".f").querySelector("label").firstChild.textContent.trim();
      link.addEventListener("click", (event) => { event.preventDefault(); unfold(field); field.focus(); });
      head.append(link, " ");
    }
    for (const line of found.fault) { const text = document.createElement("p"); text.textContent = line; box.append(text); }
  }
  function unfold(field) {
    for (let at = field.closest("details"); at; at = at.parentElement.closest("details")) at.open = true;
  }
  async function later(body) {
    if (!body || !body.dataset.later || body.dataset.got) return;
    body.dataset.got = "yes";
    const text = await (await fetch(body.dataset.later, { headers: { "X-Part": "yes" } })).text();
    body.innerHTML = text;
  }
  function show(found) {
    const shown = by("shown");
    const open = new Set(Array.from(shown.querySelectorAll("details[open]"), (each) => each.id));
    shown.innerHTML = found.answer;
    for (const id of open) { const each = by(id); if (each) each.open = true; }
    if (by("headline").textContent !== found.headline) by("headline").textContent = found.headline;
    wire();
  }
  async function refresh() {
    const mine = ++latest, now = query();
    by("answer").setAttribute("aria-busy", "true");
    try {
      const found = await (await fetch("/decide/answer?" + now + (look ? "&look=" + look : ""))).json();
      if (mine !== latest) return;
      errors(found.problems);
      for (const line of form.querySelectorAll(".mark")) { line.textContent = found.marks[line.id.slice(2)] || ""; line.hidden = !line.textContent; }
      if (found.answer !== null) show(found);
      stale(found);
      if (found.answer !== null) by("pinned").innerHTML = found.pinned;
      for (const [id, text] of Object.entries(found.says)) { const each = by(id); if (each) each.textContent = text; }
      history.replaceState(null, "", "/decide?" + found.query + (look ? "&look=" + look : ""));
      draft.remember(now);
    } catch (fault) {
      if (mine === latest) stale({ problems: {}, fault: ["The page can't be reached just now. What you typed is kept here."], answer: null });
    } finally {
      if (mine === latest) by("answer").setAttribute("aria-busy", "false");
    }
  }
  function wire() {
    for (const each of by("shown").querySelectorAll("details")) each.addEventListener("toggle", () => { if (each.open) later(each.querySelector("[data-later]")); });
    for (const each of by("shown").querySelectorAll("details[open]")) later(each.querySelector("[data-later]"));
    for (const each of by("shown").querySelectorAll("a.look")) each.addEventListener("click", async (event) => {
      event.preventDefault();
      look = each.dataset.look;
      await refresh();
      by("closer").scrollIntoView();
      by("closer").focus();
    });
    const copy = by("copy");
    if (copy) copy.addEventListener("click", async (event) => {
      event.preventDefault();
      const told = await (await fetch(copy.href, { headers: { Accept: "application/json" } })).json();
      await navigator.clipboard.writeText(location.origin + told.link);
      copy.textContent = "Link copied";
    });
  }
  form.addEventListener("input", () => { window.clearTimeout(waiting); waiting = window.setTimeout(refresh, 200); });
  form.addEventListener("focusout", (event) => {
    const name = event.target.name;
    if (!name || touched.has(name)) return;
    touched.add(name);
    if (event.target.value.trim() === "" && by("e-" + name)) { window.clearTimeout(waiting); waiting = window.setTimeout(refresh, 200); }
  });
  form.addEventListener("submit", (event) => {
    if (event.submitter && event.submitter.name === "do") return;
    event.preventDefault();
    window.clearTimeout(waiting);
    refresh();
  });
  by("fresh").addEventListener("click", draft.forget);
  by("saved").hidden = false;
  for (const each of document.querySelectorAll(".noscript")) each.hidden = true;
  const target = location.hash.startsWith("#part-") && by(location.hash.slice(1));
  if (target) { unfold(target); target.open = true; target.scrollIntoView(); }
  draft.begin(query());
  wire();
})();
