// The plan that came with the page: each choice's budget with the numbers typed over, its odds, months and verdicts.
// Needs DATA.plan, PLAN_BUDGETS, odds, bars, interp, dayOf and handout (for words).
"use strict";

const planAnswers = (() => {
  const it = DATA.plan, DRAWS = 4096, LARGEST_LOT = 100;
  const byName = Object.fromEntries(it.numbers.map(each => [each.name, each]));
  const named = path => String(path).replace(/\[(\d+)\]/g, ".$1").replace(/\./g, "_");
  const knows = path => byName[named(path)]?.open === true;
  for (const group of it.groups) for (const line of Object.values(group.lines)) line.run ??= group.run;
  const lineOf = (choice) => it.groups[choice.group].lines[choice.sale_date];
  const valueOf = (changes, name) => changes[name] ?? byName[name].value;

  // A line of log prices with what was typed over in it: bids, forward prices, head of the lot.
  function logLine(changes, line) {
    const log = Float64Array.from(line.log);
    for (const [name, per] of Object.entries(line.moves)) {
      const held = value => name.endsWith("_head") ? Math.min(value, LARGEST_LOT) : value;
      const moved = Math.log(held(valueOf(changes, name)) / held(byName[name].value));
      if (moved !== 0) for (let k = 0; k < log.length; k++) log[k] += moved * (typeof per === "number" ? per : per[k]);
    }
    return log;
  }

  // What pricing calves one by one along the slide makes of the check.
  function mix(changes, group, log, meanLb, startLb) {
    if (!group.spread) return 1;
    const offs = group.spread.list ? group.spread.list.map(name => valueOf(changes, name) - startLb) : group.spread.z.map(z => z * valueOf(changes, group.spread.sd));
    const price = lb => Math.exp(interp(lb, group.lb, log));
    return offs.reduce((sum, off) => sum + (meanLb + off) * price(meanLb + off), 0) / offs.length / (meanLb * price(meanLb));
  }

  // A choice's inputs and its prices, as planned but for what was typed over.
  function planned(changes, choice) {
    const group = it.groups[choice.group], inputs = {};
    for (const [key, [base, parts]] of Object.entries(choice.links)) inputs[key] = parts.reduce((sum, [name, per]) => sum + per * valueOf(changes, name), base);
    const now = logLine(changes, group.lines[group.start]), then = logLine(changes, lineOf(choice)), start = inputs.start_lb;
    inputs.start_price_cwt = group.bid ? valueOf(changes, group.bid) : Math.exp(interp(start, group.lb, now));
    inputs.start_mix = mix(changes, group, now, start, start);
    const priceAt = lb => Math.exp(interp(lb, group.lb, then)), run = PLAN_BUDGETS[choice.budget];
    inputs.sale_mix = mix(changes, group, then, run(inputs, priceAt).planned_lb_sale, start);
    return {inputs, then, values: run(inputs, priceAt)};
  }

  const drawn = {};
  // The same points for every choice of a group: what two choices share, they share in every draw.
  function drawsOf(group) {
    if (!drawn[group]) {
      const rows = odds.points(9, DRAWS, it.seed + 97 * group);
      drawn[group] = {z: rows.slice(0, 8).map(odds.normals), even: rows[8]};
    }
    return drawn[group];
  }

  function gainsOf(changes, choice, plain) {
    const group = it.groups[choice.group], {z, even} = drawsOf(choice.group), factor = odds.root(choice.cov), run = PLAN_BUDGETS[choice.budget];
    const {inputs, then} = plain, head = Math.round(valueOf(changes, group.head)), out = new Float64Array(DRAWS);
    const deaths = choice.count_deaths ? odds.deathShares(head, inputs.death_loss_pct / 100, choice.death_sd_pct / 100, even) : null;
    const nowSd = Math.sqrt(group.day_var), thenSd = Math.sqrt(choice.day_var), runNow = interp(inputs.start_lb, group.lb, group.lines[group.start].run);
    const runs = lineOf(choice).run, given = {...inputs}, lean = Math.sqrt(1 - choice.corr ** 2);
    for (let k = 0; k < DRAWS; k++) {
      const state = factor.map((row, i) => { let sum = 0; for (let j = 0; j <= i; j++) sum += row[j] * z[j][k]; return sum; });
      const [levelNow, levelThen, slide, quality] = state, off = levelThen + quality + thenSd * z[4][k];
      if (!group.bid) given.start_price_cwt = inputs.start_price_cwt * Math.exp(levelNow + quality + runNow * slide + nowSd * z[5][k]);
      given.gain_miss = choice.gain_sd * (choice.corr * z[6][k] + lean * z[7][k]);
      given.forage_ratio = choice.forage_sd > 0 ? Math.exp(choice.forage_sd * z[6][k]) : 1;
      if (deaths) given.death_loss_pct = 100 * deaths[k];
      const priceAt = lb => Math.exp(interp(lb, group.lb, then) + off + slide * interp(lb, group.lb, runs));
      out[k] = run(given, priceAt).gain_per_head;
    }
    return out;
  }

  function groups(changes) {
    return it.groups.map((group, g) => {
      const mine = it.choices.filter(choice => choice.group === g), head = Math.round(valueOf(changes, group.head));
      let now = null;
      const keep = mine.map(choice => {
        const plain = planned(changes, choice), spread = odds.spread(gainsOf(changes, choice, plain), it.loss_head), v = plain.values;
        now ??= {sale_date: group.start, weight_lb: v.start_lb, pay_weight_lb: v.start_pay_lb, price_cwt: v.start_price_cwt, net_per_head: v.net_now, net_herd: v.net_now * head};
        return {...handout.keepOf(it.programs[choice.program], dayOf(choice.sale_date), choice.days, v, spread, Math.min(head, choice.head)), month: choice.month};
      });
      return {group: group.name, sex: group.sex, head, sell_now: now, keep};
    });
  }

  const rangeOf = option => ({low: option.p10, high: option.p90, average: option.gain_per_head, bad: option.worst10_mean});

  function monthTable(group) {
    const programs = [...new Set(group.keep.map(option => option.program))], days = [...new Set(group.keep.map(option => option.sale_date))].sort();
    const ends = bars.axis(group.keep.map(rangeOf)), best = Math.max(...group.keep.map(option => option.gain_per_head));
    return programs.map(program => {
      const mine = days.map(day => group.keep.find(option => option.sale_date === day && option.program === program)).filter(Boolean);
      const drawings = bars.months(mine.map(option => ({ranges: [rangeOf(option)]})), ends);
      const rows = mine.map((option, k) => `<tr${option.gain_per_head === best ? ' class="best"' : ""}><th scope="row">${option.month}</th><td class="pic">${drawings[k]}</td><td class="number">${bars.money(option.gain_per_head)}</td><td class="number">${Math.round(100 * option.odds)}%</td></tr>`);
      return `<table class="months"><caption>${handout.escape(program)}</caption><thead><tr><th scope="col">Sold</th><th scope="col">8 times in 10</th><th scope="col" class="number">Average</th><th scope="col" class="number">Beats selling</th></tr></thead><tbody>${rows.join("")}</tbody></table>`;
    }).join("");
  }

  function draw(changes) {
    const told = groups(changes), shown = told.map(group => group.keep.reduce((best, option) => best === null || option.gain_per_head > best.gain_per_head ? option : best, null));
    const axis = bars.axis(shown.filter(Boolean).map(rangeOf));
    document.getElementById("plan-answer").innerHTML = `<div class="verdicts">${told.map((group, g) => {
      const option = shown[g];
      if (!option) return `<div class="verdict"><h3>${handout.escape(group.group)}</h3><p>Nothing to compare with selling now.</p></div>`;
      const more = `<p class="small">${handout.escape(option.program)}, sold ${option.month}: ${option.head_kept} head, <span class="nb">${bars.money(option.gain_per_head * option.head_kept)}</span> for the group. By the budget <span class="nb">${bars.money(option.budget_gain_per_head)}</span>.</p>${monthTable(group)}`;
      return `<div class="verdict">${handout.verdictBlock(`${group.group}, ${group.head} head`, option.gain_per_head, option, axis, more)}</div>`;
    }).join("")}</div>`;
  }

  // The fields: a fold for each part of the plan, its open numbers inside.
  function fields(changed) {
    const parts = [...new Set(it.numbers.filter(each => each.open).map(each => each.part))];
    document.getElementById("plan-fields").innerHTML = parts.map(part => `<details class="fold"><summary><b>${handout.escape(part)}</b> <span class="says"></span></summary><div class="fields wide-fields">${it.numbers.filter(each => each.open && each.part === part).map(each =>
      `<div class="f"><label for="f-${each.name}">${handout.escape(each.label)}</label><span class="in"><input id="f-${each.name}" name="${each.name}" inputmode="decimal" autocomplete="off" value="${each.value}"><span class="u" aria-hidden="true">${handout.escape(each.unit)}</span></span></div>`).join("")}</div></details>`).join("");
    const said = each => {
      const name = each.querySelector("label").textContent.toLowerCase(), unit = each.querySelector(".u").textContent;
      return `${name === unit ? "" : `${name} `}${handout.withUnit(each.querySelector("input").value, unit)}`;
    };
    const says = fold => { fold.querySelector(".says").textContent = [...fold.querySelectorAll(".f")].filter(each => Number(each.querySelector("input").value) !== 0).slice(0, 3).map(said).join(", "); };
    document.querySelectorAll("#plan-fields .fold").forEach(says);
    document.getElementById("plan-fields").addEventListener("input", event => {
      says(event.target.closest(".fold"));
      const value = quick.number(event.target.value), limits = byName[event.target.name];
      const good = Number.isFinite(value) && value >= (limits.low ?? -Infinity) && value <= (limits.high ?? Infinity);
      event.target.closest(".f").classList.toggle("bad", !good);
      event.target.setAttribute("aria-invalid", String(!good));
      if (good) changed(event.target.name, value);
    });
  }

  return {knows, named, groups, draw, fields};
})();
