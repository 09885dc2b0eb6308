"use strict";
/* The quick answer while it is typed: the arithmetic is quick.answer, generated from the declared budget. */
(function () {
  const form = document.getElementById("quick");
  if (!form || typeof quick === "undefined") return;
  const { by, kept } = page, KEY = "slidefit-quick";
  const SIDE = 2, FAR = 0.25, { plain, money, shade } = quick;
  const either = ["growth", "later"];
  const touched = new Set();
  let found = {}, waiting = 0, latest = 0;

  function written(name, value) {
    if (name === "later_price_cwt" || name === "price_cwt") return money(value);
    if (name === "cost_head_day") return money(value, false, 2);
    if (name === "gain_lb_day") return plain(value, 2);
    return name === "days" || name === "forage_lb_acre" ? plain(value, 0) : plain(value, 1);
  }
  const verdict = (gain) => (shade(gain) === "e" ? "About even" : gain > 0 ? "Keeping wins" : "Selling wins");

  function nameOf(place) {
    return either.includes(place) ? form.elements[place + "_as"].value : place;
  }
  function asked(withFound) {
    const out = {}, wrong = {};
    const places = QUICK_FIELDS.map((each) => each.name).filter((name) => form.elements[name]).concat(either);
    for (const place of places) {
      const text = form.elements[place].value.trim(), name = nameOf(place);
      if (text === "") {
        const known = withFound && found[place];
        if (known && (place !== "later" || name === "later_price_cwt")) out[name] = known.value;
        continue;
      }
      const value = quick.number(text);
      const field = QUICK_FIELDS.find((each) => each.name === name);
      if (!Number.isFinite(value)) wrong[place] = "\u201c" + text + "\u201d is not a number. Write it like 540 or 1.9.";
      else if (value < field.low || value > field.high) wrong[place] = value + " is too " + (value < field.low ? "low" : "high") + ": " + field.low + " to " + field.high + ".";
      else out[name] = value;
    }
    return { out, wrong };
  }

  function tell(place, text) {
    const field = form.elements[place], line = by("e-" + place);
    if (!field || !line) return;
    line.textContent = text;
    line.hidden = !text;
    field.closest(".f").classList.toggle("bad", Boolean(text));
    if (text) field.setAttribute("aria-invalid", "true"); else field.removeAttribute("aria-invalid");
  }

  function table(all) {
    const sides = ["x", "y"].map((side) => {
      const name = form.elements[side].value;
      const usual = Number(form.elements[side].selectedOptions[0].dataset.step);
      const step = quick.number(form.elements[side + "_step"].value), middle = quick.number(form.elements[side + "_mid"].value);
      const planned = { gain_lb_day: all.values.gain_lb_day, later_price_cwt: all.sale_price_cwt, slide_pct: all.slide_pct }[name];
      const at = Number.isFinite(middle) ? middle : planned !== undefined ? planned : all.asked[name] || 0;
      return { name, values: [-2, -1, 0, 1, 2].map((k) => at + (step > 0 ? step : usual) * k) };
    });
    const [x, y] = sides, box = by("grid");
    const limits = (side) => { const field = QUICK_FIELDS.find((each) => each.name === side.name); return side.values[0] >= field.low && side.values[4] <= field.high; };
    const able = x.name !== y.name && limits(x) && limits(y);
    box.hidden = !able;
    by("no-grid").textContent = able ? "" : x.name === y.name ? "Choose two different numbers for the table." : "The table would go beyond what these numbers can be. Take a smaller step.";
    if (!able) return;
    const gains = quick.grid(all.asked, x.name, x.values, y.name, y.values);
    by("x-name").textContent = form.elements.x.selectedOptions[0].textContent;
    by("y-name").textContent = form.elements.y.selectedOptions[0].textContent;
    box.querySelectorAll("thead th").forEach((cell, n) => { cell.textContent = written(x.name, x.values[n]); });
    box.querySelectorAll("tbody tr").forEach((row, r) => {
      row.querySelector("th").textContent = written(y.name, y.values[r]);
      row.querySelectorAll("td").forEach((cell, n) => {
        const gain = gains[r][n];
        cell.className = shade(gain) + (r === SIDE && n === SIDE ? " mid" : "");
        cell.querySelector(".c").textContent = money(gain, true);
        cell.querySelector(".away").textContent = " " + quick.said(gain);
      });
    });
  }

  function show(given) {
    const all = Object.assign(quick.answer(given), { asked: given });
    const gain = all.gain_per_head, head = quick.number(form.elements.head.value);
    const set = (id, text) => { if (by(id).textContent !== text) by(id).textContent = text; };
    set("word", verdict(gain));
    set("gain", money(gain, true));
    by("acre-box").hidden = all.gain_per_acre === null;
    if (all.gain_per_acre !== null) set("acre", money(all.gain_per_acre, true));
    by("herd-box").hidden = !(head > 0);
    if (head > 0) { set("herd-head", plain(head, 0)); set("herd", money(gain * head, true)); }
    by("pound-box").hidden = all.value_of_gain_per_lb === null;
    if (all.value_of_gain_per_lb !== null) { set("worth", money(all.value_of_gain_per_lb, false, 2)); set("costs", money(all.cost_of_gain_per_lb, false, 2)); }
    set("story", "Sell today and a calf brings " + money(all.net_now) + ". Keep it to " + plain(all.sale_lb, 0) + " lb, sold at " + money(all.sale_price_cwt) + "/cwt, and " + money(all.net_later) + " is left after its costs.");
    by("even").replaceChildren(...quick.pays(all.breakeven).map(([words, told]) => {
      const line = document.createElement("li"), text = document.createElement("span"), number = document.createElement("b");
      text.textContent = words;
      number.textContent = told;
      line.append(text, number);
      return line;
    }));
    table(all);
    set("pin-word", verdict(gain) + ", " + money(gain, true) + " a head");
    by("left-out").textContent = "";
    by("shown").hidden = false;
    by("empty").hidden = true;
  }

  function refresh() {
    const { out, wrong } = asked(true);
    const faults = quick.faults(out);
    const missing = Object.keys(faults).length > 0;
    const places = QUICK_FIELDS.map((each) => each.name).filter((name) => form.elements[name]).concat(either);
    for (const place of places) {
      const empty = form.elements[place].value.trim() === "" && touched.has(place) && faults[nameOf(place)] && !wrong[place];
      tell(place, wrong[place] || (empty ? "Give this number." : ""));
    }
    for (const place of ["price_cwt", "later"]) {
      const known = found[place], value = quick.number(form.elements[place].value.trim());
      const far = known && (place !== "later" || nameOf(place) === "later_price_cwt") && Math.abs(value / known.value - 1) > FAR;
      by("m-" + place).textContent = far ? known.far : "";
      by("m-" + place).hidden = !far;
    }
    const good = Object.keys(wrong).length === 0 && !missing;
    by("stale").hidden = good || by("shown").hidden;
    if (good) show(out);
    else if (by("shown").hidden) by("empty").textContent = Object.keys(wrong).length ? "One number is wrong: see beside it." : "Type your numbers. The answer comes here as you type.";
  }

  async function prices() {
    const mine = ++latest;
    try {
      const got = await (await fetch("/quick/prices?" + page.query(form))).json();
      if (mine !== latest) return;
      found = got;
    } catch (fault) { return; }
    for (const place of ["price_cwt", "later"]) {
      const known = found[place], field = form.elements[place];
      field.placeholder = known ? String(known.value) : "";
      by("from-" + place).textContent = known && field.value.trim() === "" ? known.from : "";
    }
    refresh();
  }

  const labels = () => { for (const place of either) form.elements[place].closest(".f").querySelector(".l").textContent = form.elements[place + "_as"].selectedOptions[0].dataset.label; };
  function fill(query) {
    const typed = new URLSearchParams(query);
    for (const field of form.elements) if (field.name) field.value = typed.get(field.name) ?? (field.options ? field.options[0].value : "");
    labels();
    history.replaceState(null, "", "/?" + query);
    prices();
    refresh();
  }
  const draft = page.draft(KEY, by("undo"), fill);
  function keep() {
    const now = page.query(form);
    draft.remember(now);
    history.replaceState(null, "", "/?" + now);
  }

  for (const place of either) form.elements[place + "_as"].addEventListener("change", labels);
  form.addEventListener("input", () => {
    refresh();
    window.clearTimeout(waiting);
    waiting = window.setTimeout(() => { keep(); prices(); }, 250);
  });
  form.addEventListener("focusout", (event) => { if (event.target.name && !event.target.name.endsWith("_as")) { touched.add(event.target.name); refresh(); } });
  form.addEventListener("submit", (event) => {
    if (event.submitter && event.submitter.getAttribute("formaction")) return;
    event.preventDefault();
    for (const field of form.querySelectorAll(".side input")) touched.add(field.name);
    refresh();
    by("answer").focus();
  });
  document.querySelector(".noscript").hidden = true;
  for (const each of document.querySelectorAll(".scripted")) each.hidden = false;
  by("print").addEventListener("click", () => window.print());
  by("copy").addEventListener("click", async (event) => {
    const query = new URLSearchParams(page.query(form));
    for (const [place, known] of Object.entries(found)) if (!query.has(place)) query.set(place, known.value);
    query.set("source", "typed");
    await navigator.clipboard.writeText(location.origin + "/?" + query);
    event.target.textContent = "Link copied";
  });

  if (location.search === "") {
    for (const [name, value] of new URLSearchParams(kept(localStorage, KEY))) {
      const field = form.elements[name];
      if (field && typeof field.value === "string") field.value = value;
    }
    labels();
  }
  draft.begin(page.query(form));
  prices();
  refresh();
})();
