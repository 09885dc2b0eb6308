// An outlook's prices: the same curves as the server's, read the same way. Days are whole days since 1970-01-01.
"use strict";

const MONTH_DAYS = 365.25 / 12, STANDARD_LB = 550, STANDARD_HEAD = 15;

const dayOf = text => Math.round(Date.UTC(...text.split("-").map((part, k) => Number(part) - (k === 1 ? 1 : 0))) / 86400000);
const dateOf = day => new Date(day * 86400000);
const isoOf = day => dateOf(day).toISOString().slice(0, 10);

// Straight between points, held at the ends; xs increasing.
function interp(x, xs, ys) {
  if (x <= xs[0]) return ys[0];
  const last = xs.length - 1;
  if (x >= xs[last]) return ys[last];
  let low = 0, high = last;
  while (high - low > 1) { const middle = (low + high) >> 1; if (xs[middle] <= x) low = middle; else high = middle; }
  return ys[low] + (ys[high] - ys[low]) * (x - xs[low]) / (xs[high] - xs[low]);
}

// The two calendar months (0 to 11) whose mid-month values a day lies between, and their shares.
function monthShares(day) {
  const date = dateOf(day);
  const position = (((date.getUTCMonth() + (date.getUTCDate() - 15) / MONTH_DAYS) % 12) + 12) % 12, first = Math.floor(position);
  return [[first % 12, 1 - (position - first)], [(first + 1) % 12, position - first]];
}

// data: first_day, index [log, a value a day], drift [log per cwt, a value a day], cov_days, cov, curves {sex: {lb, log (12 rows), run}},
// grades {name: [offset, slope]}, head_slope, noise {sale, lot, calf}
function priceBook(data) {
  const held = (row, day) => row[Math.min(Math.max(day - data.first_day, 0), row.length - 1)];
  const logIndex = day => held(data.index, day);

  // Log price by weight of a lot on a day, at every weight of its sex's curve.
  function logLine(calf, day) {
    const curve = data.curves[calf.sex], [offset, slope] = data.grades[calf.grade];
    const shares = monthShares(day), base = logIndex(day) + offset + data.head_slope * Math.log(calf.head / STANDARD_HEAD);
    const drift = slope + held(data.drift, day);
    const log = curve.lb.map((lb, k) => base + shares.reduce((sum, [month, share]) => sum + share * curve.log[month][k], 0) + drift * (lb - STANDARD_LB) / 100);
    return {lb: curve.lb, log};
  }

  // One standard error of the slide, added up from a weight: minus below it.
  const runFrom = (sex, atLb) => { const curve = data.curves[sex], at = interp(atLb, curve.lb, curve.run); return curve.run.map(each => each - at); };

  // Straight between the days that the covariance was worked out for.
  function cov(one, other) {
    const place = day => {
      const days = data.cov_days, last = days.length - 1, k = Math.min(Math.max(days.findIndex(each => each > day) - 1, 0), last - 1);
      const low = day >= days[last] ? last - 1 : k, share = Math.min(Math.max((day - days[low]) / (days[low + 1] - days[low]), 0), 1);
      return [low, share];
    };
    const [i, s] = place(one), [j, t] = place(other), c = data.cov;
    return (1 - s) * ((1 - t) * c[i][j] + t * c[i][j + 1]) + s * ((1 - t) * c[i + 1][j] + t * c[i + 1][j + 1]);
  }

  const priceAt = (calf, lb, day) => { const line = logLine(calf, day); return Math.exp(interp(lb, line.lb, line.log)); };
  const noise = head => Math.sqrt(data.noise.sale ** 2 + data.noise.lot ** 2 + data.noise.calf ** 2 / Math.max(head, 1));
  return {logIndex, logLine, runFrom, cov, priceAt, noise};
}
