// The quick question, answered where it is typed: the same arithmetic as the server's, from the same declared budget.
// Needs the generated functions budget_daily, budget_pounds and budget_by_weight, and QUICK_FIELDS, QUICK_LIMITS.
"use strict";

const quick = (() => {
  const LEAST_FOR_SLIDE_LB = 1, STEPS = 41, PASSES = 3;

  // "540 lb", "1,9", "$365", "4%", "1,250.50" are numbers; anything else is NaN. One comma before one or two last digits is a decimal.
  function number(text) {
    if (typeof text === "number") return text;
    let bare = String(text ?? "").trim().toLowerCase().replace(/\u2212/g, "-").replace(/\s+/g, " ");
    bare = bare.replace(/^([-+]?)\s*\$\s*/, "$1").replace(/\s*(lbs?|pounds?|days?|head|acres?|percent|%|\$)?(\s*(\/|a |an |per )\s*[a-z]+)*\.?$/, "");
    if (/^[-+]?\d{1,3}(,\d{3})+(\.\d+)?$/.test(bare)) bare = bare.replace(/,/g, "");
    else if (/^[-+]?\d+,\d{1,2}$/.test(bare)) bare = bare.replace(",", ".");
    return /^[-+]?(\d+\.?\d*|\.\d+)$/.test(bare) ? Number(bare) : NaN;
  }

  function impliedSlide(fromLb, fromCwt, toLb, toCwt) {
    const cwt = (toLb - fromLb) / 100;
    return Math.abs(cwt) >= LEAST_FOR_SLIDE_LB / 100 ? 100 * (1 - Math.pow(toCwt / fromCwt, 1 / cwt)) : 0;
  }

  function gainDay(asked) {
    return "gain_lb_day" in asked ? asked.gain_lb_day : (asked.to_weight_lb - asked.weight_lb) / asked.days;
  }

  function inputs(asked) {
    const out = {}, gain = gainDay(asked), shrink = asked.shrink_pct ?? 0;
    for (const field of QUICK_FIELDS) if (field.key && field.name in asked) out[field.key] = asked[field.name];
    Object.assign(out, {gain_lb_day: gain, shrink_pct: shrink, start_shrink_pct: shrink});
    if (!("later_price_cwt" in asked)) {
      return Object.assign(out, {later_price_cwt: asked.price_cwt, later_weight_lb: asked.weight_lb, slide_pct: asked.slide_pct});
    }
    const atLb = asked.later_weight_lb ?? asked.weight_lb + gain * asked.days;
    const slide = asked.slide_pct ?? impliedSlide(asked.weight_lb, asked.price_cwt, atLb, asked.later_price_cwt);
    return Object.assign(out, {later_price_cwt: asked.later_price_cwt, later_weight_lb: atLb, slide_pct: slide});
  }

  function values(asked) {
    const given = inputs(asked);
    if ("intake_lb_day" in asked) return budget_pounds(given);
    return "intake_pct" in asked ? budget_by_weight(given) : budget_daily(given);
  }

  // The question with fields typed in place of what stood for them.
  function withValues(asked, changes) {
    const out = {...asked}, planned = values(asked);
    if ("slide_pct" in changes && !("slide_pct" in asked)) { delete out.later_price_cwt; delete out.later_weight_lb; }
    const moved = ["gain_lb_day", "to_weight_lb", "days", "weight_lb"].filter(name => name in changes);
    const later = "later_price_cwt" in out || "later_price_cwt" in changes;
    if (later && (moved.length || !("later_price_cwt" in asked)) && !("later_weight_lb" in out)) out.later_weight_lb = planned.sale_lb;
    if (("gain_lb_day" in changes || "days" in changes) && !("to_weight_lb" in changes)) { out.gain_lb_day = gainDay(asked); delete out.to_weight_lb; }
    if ("to_weight_lb" in changes) delete out.gain_lb_day;
    return Object.assign(out, changes);
  }

  // Where a gain comes out even between two limits, nearest to what is planned: a grid, finer ones, a line.
  function evenAt(gainAt, low, high, planned) {
    let at = [], gains = [];
    for (let pass = 0; pass < PASSES; pass++) {
      at = Array.from({length: STEPS}, (_, k) => low + (high - low) * k / (STEPS - 1));
      gains = at.map(gainAt);
      let best = -1;
      for (let k = 0; k + 1 < STEPS; k++) {
        if ((gains[k] > 0) === (gains[k + 1] > 0)) continue;
        const off = Math.abs((at[k] + at[k + 1]) / 2 - planned);
        if (best < 0 || off < Math.abs((at[best] + at[best + 1]) / 2 - planned)) best = k;
      }
      if (best < 0) return null;
      [low, high] = [at[best], at[best + 1]];
      gains = [gains[best], gains[best + 1]];
    }
    return low + (high - low) * gains[0] / (gains[0] - gains[1]);
  }

  // The faults of a question, field by field; an empty object where it can be answered.
  function faults(asked) {
    const out = {};
    for (const field of QUICK_FIELDS) {
      const value = asked[field.name];
      if (value === undefined) { if (field.needed) out[field.name] = "is missing"; continue; }
      if (!Number.isFinite(value)) out[field.name] = "is not a number";
      else if (value < field.low || value > field.high) out[field.name] = `is ${field.low} to ${field.high} ${field.unit}`;
    }
    if (!("to_weight_lb" in asked) && !("gain_lb_day" in asked)) out.gain_lb_day = "is missing: give the gain or the weight at sale";
    if (!("later_price_cwt" in asked) && !("slide_pct" in asked)) out.later_price_cwt = "is missing: give the price later or a slide";
    const pasture = ["acre_cost", "forage_lb_acre", "eaten_pct", "intake_lb_day", "intake_pct"].some(name => name in asked);
    if (pasture) {
      for (const name of ["forage_lb_acre", "eaten_pct"]) if (!(name in asked)) out[name] = "is missing for the pasture";
      if (!("intake_lb_day" in asked) && !("intake_pct" in asked)) out.intake_pct = "is missing for the pasture";
    }
    return out;
  }

  function answer(asked) {
    const all = values(asked), putOn = all.sale_lb - all.start_lb, enough = putOn >= LEAST_FOR_SLIDE_LB;
    const breakeven = {};
    for (const [name, [low, high]] of Object.entries(QUICK_LIMITS)) {
      if (name === "forage_lb_acre" && !(name in asked)) continue;
      const planned = {gain_lb_day: all.gain_lb_day, later_price_cwt: all.price_cwt, slide_pct: all.slide_pct}[name] ?? asked[name] ?? 0;
      breakeven[name] = evenAt(value => values(withValues(asked, {[name]: value})).gain_per_head, low, high, planned);
    }
    return {
      net_now: all.net_now, net_later: all.net_later, gain_per_head: all.gain_per_head,
      gain_per_acre: all.gain_per_acre ?? null, head_per_acre: all.head_per_acre ?? null,
      value_of_gain_per_lb: enough ? (all.pay_lb * all.price_cwt / 100 - all.start_check) / putOn : null,
      cost_of_gain_per_lb: enough ? (all.cash_head + all.interest_head) / putOn : null,
      slide_pct: all.slide_pct, sale_lb: all.sale_lb, sale_price_cwt: all.price_cwt, breakeven, values: all,
    };
  }

  // The gain from keeping over two fields: a row for each value down.
  function grid(asked, across, acrossValues, down, downValues) {
    return downValues.map(y => acrossValues.map(x => values(withValues(asked, {[across]: x, [down]: y})).gain_per_head));
  }

  // How an answer is written, on the page and on the take-home page alike.
  const EVEN_CELL = 15, SURE_CELL = 150;
  const plain = (value, digits) => value.toLocaleString("en-US", {minimumFractionDigits: digits, maximumFractionDigits: digits});
  function money(value, sign = false, digits = 0) {
    const zero = Number(Math.abs(value).toFixed(digits)) === 0;
    return `${zero ? "" : value < 0 ? "\u2212" : sign ? "+" : ""}$${plain(Math.abs(value), digits)}`;
  }
  const shade = gain => Math.abs(gain) < EVEN_CELL ? "e" : (gain > 0 ? "k" : "s") + (Math.abs(gain) >= SURE_CELL ? 2 : 1);
  const said = gain => ({e: "about even", k: "keep", s: "sell"})[shade(gain)[0]];
  const PAYS = {
    later_price_cwt: ["the price then is at least", v => `${money(v)}/cwt`], gain_lb_day: ["they gain at least", v => `${plain(v, 2)} lb a day`],
    cost_head_day: ["a day costs no more than", v => money(v, false, 2)], price_cwt: ["today's bid is under", v => `${money(v)}/cwt`],
    slide_pct: ["the slide is under", v => `${plain(v, 1)}%`], death_loss_pct: ["deaths stay under", v => `${plain(v, 1)}%`],
    forage_lb_acre: ["pasture grows at least", v => `${plain(v, 0)} lb an acre`],
  };
  // What keeps keeping worth it: words and number.
  const pays = breakeven => Object.keys(PAYS).filter(name => (breakeven[name] ?? null) !== null).map(name => [PAYS[name][0], PAYS[name][1](breakeven[name])]);

  return {number, inputs, values, withValues, evenAt, faults, answer, grid, impliedSlide, plain, money, shade, said, pays};
})();
