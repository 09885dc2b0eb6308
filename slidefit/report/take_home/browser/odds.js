// Seeded draws in the page: evenly spread points, normal numbers, deaths in whole calves, and what a set of gains says.
"use strict";

const odds = (() => {
  // A small generator of even numbers from a seed (mulberry32): the same seed gives the same answer everywhere.
  function even(seed) {
    let state = seed >>> 0;
    return () => {
      state = (state + 0x6D2B79F5) | 0;
      let t = Math.imul(state ^ (state >>> 15), 1 | state);
      t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
      return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
    };
  }

  // Inverse of the normal curve, Wichura's AS 241 (Applied Statistics 37, 1988), PPND7: good to seven digits.
  function normalAt(p) {
    const q = p - 0.5;
    if (Math.abs(q) <= 0.425) {
      const r = 0.180625 - q * q;
      return q * (((59.109374720 * r + 159.29113202) * r + 50.434271938) * r + 3.3871327179) /
        (((67.187563600 * r + 78.757757664) * r + 17.895169469) * r + 1);
    }
    let r = Math.sqrt(-Math.log(q < 0 ? p : 1 - p));
    const z = r <= 5
      ? (r -= 1.6, (((0.17023821103 * r + 1.3067284816) * r + 2.7568153900) * r + 1.4234372777) / ((0.12021132975 * r + 0.73700164250) * r + 1))
      : (r -= 5, (((0.017337203997 * r + 0.42868294337) * r + 3.0812263860) * r + 6.6579051150) / ((0.012258202635 * r + 0.24197894225) * r + 1));
    return q < 0 ? -z : z;
  }

  // Points spread evenly over the unit cube: steps of the powers of 1/g, g^(d+1) = g + 1, from a seeded start.
  function points(dimensions, count, seed) {
    let g = 2;
    for (let k = 0; k < 60; k++) g = Math.pow(1 + g, 1 / (dimensions + 1));
    const next = even(seed);
    return Array.from({length: dimensions}, (_, d) => {
      const step = Math.pow(1 / g, d + 1), start = next();
      return Float64Array.from({length: count}, (_, k) => Math.min(Math.max((start + step * (k + 1)) % 1, 1e-9), 1 - 1e-9));
    });
  }

  const normals = row => row.map(normalAt);

  // ln of the gamma function, Lanczos (SIAM J. Numerical Analysis 1, 1964), g = 5, six terms.
  function lgamma(x) {
    const c = [76.18009172947146, -86.50532032941677, 24.01409824083091, -1.231739572450155, 0.001208650973866179, -0.000005395239384953];
    let series = 1.000000000190015;
    c.forEach((each, k) => { series += each / (x + 1 + k); });
    const t = x + 5.5;
    return (x + 0.5) * Math.log(t) - t + Math.log(2.5066282746310005 * series / x);
  }

  // Deaths as a share of the head, from even numbers: binomial, or with a rate that varies, beta-binomial.
  function deathShares(head, mean, sd, evens) {
    if (mean <= 0) return evens.map(() => 0);
    const logs = [], choose = k => lgamma(head + 1) - lgamma(k + 1) - lgamma(head - k + 1);
    if (sd > 0 && mean < 1) {
      const total = mean * (1 - mean) / Math.min(sd * sd, 0.99 * mean * (1 - mean)) - 1, a = mean * total, b = (1 - mean) * total;
      for (let k = 0; k <= head; k++) logs.push(choose(k) + lgamma(k + a) + lgamma(head - k + b) - lgamma(head + a + b) + lgamma(a + b) - lgamma(a) - lgamma(b));
    } else for (let k = 0; k <= head; k++) logs.push(choose(k) + k * Math.log(mean) + (head - k) * Math.log1p(-Math.min(mean, 1 - 1e-12)));
    const sums = [];
    let sum = 0;
    for (const each of logs) sums.push(sum += Math.exp(each));
    return evens.map(u => { let k = 0; while (k < head && sums[k] < u) k++; return k / head; });
  }

  // What a set of gains says: odds of any gain, of a loss over a limit, the 10, 50 and 90 percent points, the mean, the worst tenth.
  function spread(gains, lossHead) {
    const sorted = Float64Array.from(gains).sort(), n = sorted.length;
    const at = share => { const place = share * (n - 1), low = Math.floor(place); return sorted[low] + (place - low) * ((sorted[low + 1] ?? sorted[low]) - sorted[low]); };
    const mean = rows => rows.reduce((sum, each) => sum + each, 0) / rows.length;
    const wins = sorted.reduce((sum, each) => sum + (each > 1e-9 ? 1 : Math.abs(each) <= 1e-9 ? 0.5 : 0), 0);
    return {
      odds: wins / n, odds_big_loss: sorted.reduce((sum, each) => sum + (each < -lossHead), 0) / n, mean: mean(sorted),
      p10: at(0.1), p50: at(0.5), p90: at(0.9), worst10_mean: mean(sorted.slice(0, Math.max(Math.round(n / 10), 1))), worst5_mean: mean(sorted.slice(0, Math.max(Math.round(n / 20), 1))),
    };
  }

  // Lower triangular root of a small covariance; a side without spread gets zeros.
  function root(cov) {
    const n = cov.length, out = cov.map(() => new Array(n).fill(0));
    for (let i = 0; i < n; i++) for (let j = 0; j <= i; j++) {
      let sum = cov[i][j];
      for (let k = 0; k < j; k++) sum -= out[i][k] * out[j][k];
      out[i][j] = i === j ? Math.sqrt(Math.max(sum, 0)) : out[j][j] > 1e-12 ? sum / out[j][j] : 0;
    }
    return out;
  }

  return {points, normals, root, normalAt, deathShares, spread};
})();
