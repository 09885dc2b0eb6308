// The take-home page: a quick answer from typed numbers and the prices inside, and the plan that came with it.
// Needs DATA (see handout.py), priceBook, odds, quick, bars; with a plan, planAnswers too.
"use strict";

const handout = (() => {
  const DRAWS = 4096, CLOSE_HEAD = 10;
  const book = priceBook(DATA.prices), state = {...DATA.start}, plan = {};
  const money = bars.money, $ = id => document.getElementById(id);
  const escape = text => String(text).replace(/[&<>"']/g, c => ({"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"})[c]);
  const capital = text => text.charAt(0).toUpperCase() + text.slice(1);

  // The verdict's five words: odds and dollars must agree.
  function verdict(mean, chance) {
    if (Math.abs(mean) < CLOSE_HEAD || (chance >= 0.4 && chance <= 0.6) || (mean > 0) !== (chance > 0.5)) return "Too close to call";
    const sure = (chance >= 0.75 || chance <= 0.25) && Math.abs(mean) >= 25;
    return mean > 0 ? (sure ? "Keep" : "Probably keep") : sure ? "Sell" : "Probably sell";
  }

  function oddsWords(chance) {
    if (chance > 0.95) return "better than 19 times in 20";
    if (chance < 0.05) return "less than 1 time in 20";
    const tenths = Math.min(Math.max(Math.round(10 * chance), 1), 9);
    return tenths === 5 ? "about half the time" : `about ${tenths} times in 10`;
  }

  const calf = () => ({sex: state.sex, grade: state.grade, head: Math.min(Number(state.head) || 1, DATA.largest_lot)});

  // The question as it is typed, prices filled from the book where none is typed; faults field by field.
  function question() {
    const asked = {}, wrong = {}, day = dayOf(state.today);
    for (const field of QUICK_FIELDS) {
      const text = state[field.name];
      if (text === undefined || text === null || String(text).trim() === "") continue;
      asked[field.name] = quick.number(text);
    }
    const auto = {price: !("price_cwt" in asked), later: !("later_price_cwt" in asked) && !("slide_pct" in asked)};
    const seen = DATA.prices.curves[state.sex].seen;
    const inside = lb => lb >= seen[0] - 50 && lb <= seen[1] + 50;
    if (auto.price && asked.weight_lb > 0) asked.price_cwt = book.priceAt(calf(), asked.weight_lb, day);
    const gain = asked.gain_lb_day ?? (asked.to_weight_lb - asked.weight_lb) / asked.days;
    const saleLb = asked.weight_lb + gain * asked.days;
    if (auto.later && Number.isFinite(saleLb)) {
      asked.later_price_cwt = book.priceAt(calf(), saleLb, day + asked.days);
      asked.later_weight_lb = saleLb;
      if (!("price_cwt" in asked)) delete asked.later_price_cwt;
      else if (!auto.price) {
        const {mean, runThen} = stateOf(asked, day, asked.price_cwt);
        asked.later_price_cwt *= Math.exp(mean[1] + mean[3] + runThen(saleLb) * mean[2]);
      }
    }
    Object.assign(wrong, quick.faults(asked));
    if (Number.isFinite(asked.weight_lb) && !inside(asked.weight_lb)) wrong.weight_lb = `is outside the weights sold here, ${Math.round(seen[0])} to ${Math.round(seen[1])} lb`;
    else if (Number.isFinite(saleLb) && !inside(saleLb)) wrong.gain_lb_day = `takes them to ${Math.round(saleLb)} lb; calves sold here weigh ${Math.round(seen[0])} to ${Math.round(seen[1])} lb`;
    if (!(Number(state.head) >= 1)) wrong.head = "is 1 or more";
    return {asked, wrong, auto, day};
  }

  // Level now and later, slide and the calves' lasting quality, jointly normal; a typed price is an observation of their
  // sum and of the day's noise, and moves each by its variance.
  function stateOf(asked, day, bidCwt) {
    const then = day + asked.days, noise = DATA.prices.noise, lot = noise.lot ** 2 + noise.calf ** 2 / Math.max(calf().head, 1);
    const quality = DATA.lasting_share * lot, dayVar = lot - quality + noise.sale ** 2, both = book.cov(day, then);
    let cov = [[book.cov(day, day), both, 0, 0], [both, book.cov(then, then), 0, 0], [0, 0, 1, 0], [0, 0, 0, quality]], mean = [0, 0, 0, 0];
    const lb = DATA.prices.curves[state.sex].lb, run = book.runFrom(state.sex, STANDARD_LB), runThen = at => interp(at, lb, run), runNow = runThen(asked.weight_lb);
    if (bidCwt !== null) {
      const seen = [1, 0, runNow, 1], along = cov.map(row => row.reduce((sum, each, k) => sum + each * seen[k], 0));
      const total = seen.reduce((sum, each, k) => sum + each * along[k], dayVar), surprise = Math.log(bidCwt / book.priceAt(calf(), asked.weight_lb, day));
      mean = along.map(each => each / total * surprise);
      cov = cov.map((row, a) => row.map((each, b) => each - along[a] * along[b] / total));
    }
    return {mean, cov, runNow, runThen, daySd: Math.sqrt(dayVar)};
  }

  // Gains in every draw: price, gain and deaths together.
  function gainsOf({asked, auto, day}) {
    const rows = odds.points(8, DRAWS, DATA.seed), z = rows.slice(0, 7).map(odds.normals), typed = !auto.price;
    const deaths = odds.deathShares(Math.round(Number(state.head)), (asked.death_loss_pct ?? 0) / 100, 0, rows[7]);
    const {cov, runNow, runThen, daySd} = stateOf(asked, day, typed ? asked.price_cwt : null), factor = odds.root(cov);
    const base = quick.inputs(asked), atSale = runThen(quick.values(asked).sale_lb), out = new Float64Array(DRAWS), call = budgetFor(asked);
    for (let k = 0; k < DRAWS; k++) {
      const [now, then, slide, quality] = factor.map((row, i) => { let sum = 0; for (let j = 0; j <= i; j++) sum += row[j] * z[j][k]; return sum; });
      const off = then + quality + atSale * slide + daySd * z[4][k];
      const start = typed ? base.start_price_cwt : base.start_price_cwt * Math.exp(now + quality + runNow * slide + daySd * z[5][k]);
      out[k] = call({...base, start_price_cwt: start, later_price_cwt: base.later_price_cwt * Math.exp(off), gain_miss: DATA.gain_sd_lb_day * z[6][k], death_loss_pct: 100 * deaths[k]}).gain_per_head;
    }
    return out;
  }

  const budgetFor = asked => "intake_lb_day" in asked ? budget_pounds : "intake_pct" in asked ? budget_by_weight : budget_daily;

  function quickAnswer() {
    const made = question();
    if (Object.keys(made.wrong).length) return {made, told: null};
    const told = quick.answer(made.asked), spread = odds.spread(gainsOf(made), DATA.loss_head);
    return {made, told, spread};
  }

  // Shaped like `compare --json`: groups, each with sell_now and the ways to keep it.
  function answer() {
    const {made, told, spread} = quickAnswer();
    const head = Math.round(Number(state.head));
    const groups = told === null ? [] : [{
      group: "My calves", sex: state.sex, head,
      sell_now: {sale_date: state.today, weight_lb: made.asked.weight_lb, price_cwt: made.asked.price_cwt, net_per_head: told.net_now, net_herd: told.net_now * head},
      keep: [keepOf("kept", made.day + made.asked.days, made.asked.days, told.values, spread, head)],
    }];
    return {as_of: DATA.prices.as_of, source: DATA.source, faults: made.wrong, groups: typeof planAnswers === "undefined" ? groups : planAnswers.groups(plan), quick: groups};
  }

  function keepOf(program, day, days, values, spread, head) {
    return {
      program, sale_date: isoOf(day), sale_month: isoOf(day).slice(0, 7), days, weight_lb: values.sale_lb, pay_weight_lb: values.pay_lb, price_cwt: values.price_cwt,
      net_per_head: values.net_later, budget_gain_per_head: values.gain_per_head, gain_per_head: spread.mean, gain_herd: spread.mean * head, gain_per_acre: values.gain_per_acre ?? null,
      head_kept: head, ...spread,
    };
  }

  // Set numbers by their path: a field of the quick answer by its name, of the plan by its path.
  function set(values) {
    for (const [path, value] of Object.entries(values)) {
      if (path in state || QUICK_FIELDS.some(field => field.name === path)) state[path] = value;
      else if (typeof planAnswers !== "undefined" && planAnswers.knows(path)) plan[planAnswers.named(path)] = Number(value);
      else throw new RangeError(`${path} is not a field of this page`);
      const input = $(`f-${path}`);
      if (input) input.value = value;
    }
    draw();
  }

  function verdictBlock(name, mean, spread, axis, more) {
    const word = verdict(mean, spread.odds), range = {low: spread.p10, high: spread.p90, average: mean, bad: spread.worst10_mean}, wins = Math.round(10 * spread.odds);
    const dots = Array.from({length: 10}, (_, k) => `<i${k < wins ? ' class="on"' : ""}></i>`).join("");
    return `${name ? `<h3>${escape(name)}</h3>` : ""}<p class="word">${word}</p><p class="sum">${money(mean)} <span class="unit">a head by keeping</span></p>` +
      bars.bar(range, axis ?? bars.axis([range])) + `<p class="odds"><span class="dots" aria-hidden="true">${dots}</span> Keeping beats selling now ${oddsWords(spread.odds)}.</p>${more}`;
  }

  const evenRows = told => `<h3>Keeping pays as long as</h3><ul class="even">${quick.pays(told.breakeven).map(([words, number]) => `<li><span>${words}</span><b>${number}</b></li>`).join("")}</ul>`;

  // Price then across, gain down, five by five: shade and sign say the same.
  function gridTable(asked, values) {
    const price = Math.round(values.price_cwt / 5) * 5, step = Math.max(5, Math.round(price * 0.04 / 5) * 5), gain = Math.round(values.gain_lb_day * 10) / 10;
    const across = [-2, -1, 0, 1, 2].map(k => price + k * step), down = [-2, -1, 0, 1, 2].map(k => Math.round((gain + k * 0.2) * 100) / 100);
    const rows = quick.grid(asked, "later_price_cwt", across, "gain_lb_day", down).map((row, k) =>
      `<tr><th scope="row">${down[k].toFixed(2)}</th>${row.map((v, j) => `<td class="${quick.shade(v)}${k === 2 && j === 2 ? " mid" : ""}">${money(v)}<span class="away"> ${quick.said(v)}</span></td>`).join("")}</tr>`);
    return `<table class="grid"><caption>If the price or the gain turns out different<br><span class="small">Dollars a head from keeping. Across: price then, $/cwt, for ${Math.round(asked.later_weight_lb ?? values.sale_lb)} lb. Down: gain, lb a day.</span></caption>` +
      `<thead><tr><th scope="col"><span class="away">Gain, lb a day</span></th>${across.map(v => `<th scope="col">$${v}</th>`).join("")}</tr></thead><tbody>${rows.join("")}</tbody></table>` +
      `<ul class="key"><li><i class="k2"></i>keep, by $150 or more</li><li><i class="k1"></i>keep</li><li><i class="e"></i>about even, within $15</li><li><i class="s1"></i>sell</li><li><i class="s2"></i>sell, by $150 or more</li></ul>`;
  }

  // A number as it was typed, with its unit: dollars before it, percent close behind.
  function withUnit(text, unit) {
    const bare = String(text).trim();
    if (!/^[\d.,]+$/.test(bare)) return bare;
    if (unit.startsWith("$")) return `$${bare}${/\.\d$/.test(bare) ? "0" : ""}${unit.slice(1)}`;
    return unit.startsWith("percent") ? `${bare}%${unit.slice(7)}` : `${bare} ${unit}`.trim();
  }

  function drawQuick() {
    const {made, told, spread} = quickAnswer();
    const blank = name => String(state[name] ?? "").trim() === "";
    for (const name of [...QUICK_FIELDS.map(field => field.name), "head"]) {
      const error = $(`e-${name}`);
      if (!error) continue;
      const words = made.wrong[name] && !(blank(name) && name !== "head") ? `${capital(made.wrong[name])}.` : "";
      error.textContent = words;
      error.hidden = words === "";
      $(`row-${name}`)?.classList.toggle("bad", words !== "");
    }
    for (const [name, auto] of [["price_cwt", made.auto.price], ["later_price_cwt", made.auto.later]]) {
      const value = made.asked[name];
      $(`from-${name}`).textContent = auto && Number.isFinite(value) ? `from ${DATA.source}` : auto ? "" : "typed";
      $(`f-${name}`).placeholder = auto && Number.isFinite(value) ? value.toFixed(0) : "";
    }
    for (const [name, fields] of Object.entries(DATA.folds)) {
      const given = fields.filter(each => !blank(each.name)).map(each => `${each.label} ${withUnit(state[each.name], each.unit)}`);
      $(`says-${name}`).textContent = given.length ? given.join(", ") : "Nothing counted.";
    }
    if (told === null) {
      const missing = Object.keys(made.wrong).filter(blank).length === Object.keys(made.wrong).length;
      $("headline").textContent = missing ? "Type the weight, the gain, the days and what a day costs." : "Fix the marked number; the last answer stands below.";
      $("headline").classList.remove("away");
      $("shown").classList.toggle("was", !missing);
      return;
    }
    const head = Math.round(Number(state.head)), v = told.values;
    $("headline").textContent = `${verdict(spread.mean, spread.odds)}: ${money(spread.mean)} a head by keeping ${made.asked.days} days.`;
    const three = [["All head", money(spread.mean * head)], ["A pound put on", told.value_of_gain_per_lb === null ? "\u2013" : `brings $${told.value_of_gain_per_lb.toFixed(2)}, costs $${told.cost_of_gain_per_lb.toFixed(2)}`],
      ...(told.gain_per_acre === null ? [] : [["An acre", money(spread.mean * told.head_per_acre)]])];
    const more = `<p class="small">Bar: 8 times in 10. Ring: average. Bad year: the worst 1 in 10, averaged.</p>` +
      `<dl class="three">${three.map(([name, value]) => `<div><dt>${name}</dt><dd>${value}</dd></div>`).join("")}</dl>` +
      `<p>Sell now and a calf nets $${Math.round(v.net_now).toLocaleString("en-US")}. Keep it ${made.asked.days} days to ${Math.round(v.sale_lb)} lb and it nets $${Math.round(v.net_later).toLocaleString("en-US")} at the planned price.</p>` + evenRows(told) + gridTable(made.asked, v);
    $("headline").classList.add("away");
    $("shown").classList.remove("was");
    $("shown").innerHTML = verdictBlock("", spread.mean, spread, null, more);
  }

  function drawAge() {
    const days = dayOf(state.today) - dayOf(DATA.prices.as_of);
    $("age").textContent = days <= 0 ? "Prices of this very day." : `These prices are ${days} day${days === 1 ? "" : "s"} old on the day you sell.`;
  }

  function draw() {
    drawAge();
    drawQuick();
    if (typeof planAnswers !== "undefined") planAnswers.draw(plan);
  }

  $("quick").addEventListener("input", event => { state[event.target.name] = event.target.value; draw(); });
  $("quick").addEventListener("submit", event => event.preventDefault());
  function begin() {
    if (typeof planAnswers !== "undefined") planAnswers.fields((name, value) => { plan[name] = value; planAnswers.draw(plan); });
    draw();
  }

  return {set, answer, begin, verdict, oddsWords, verdictBlock, keepOf, book, escape, withUnit};
})();
window.handout = {set: handout.set, answer: handout.answer};
