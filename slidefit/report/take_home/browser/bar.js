// Pictures drawn in the page as SVG: x in percent, y in pixels, so that words keep their size at every width.
"use strict";

const bars = (() => {
  const INK = "#151c22", DEEP = "#0b4f7a", LINE = "#c4c2bc", NEAR_END = 12, APART = 24, APART_ABOVE = 42;
  const money = (value, sign = true) => quick.money(value, sign);
  const place = (value, [low, high]) => 100 * Math.min(Math.max((value - low) / (high - low), 0), 1);
  const anchor = at => at < NEAR_END ? "start" : at > 100 - NEAR_END ? "end" : "middle";
  const word = (at, y, text) => `<text x="${at}%" y="${y}" text-anchor="${anchor(at)}">${text}</text>`;
  const line = (x1, x2, y1, y2, color, width, more = "") => `<line x1="${x1}%" x2="${x2}%" y1="${y1}" y2="${y2}" stroke="${color}" stroke-width="${width}"${more}/>`;

  // The least axis that holds all ranges and zero, a twentieth wider on both sides.
  function axis(ranges) {
    const all = [0, ...ranges.flatMap(r => [r.low, r.high, r.bad])], low = Math.min(...all), high = Math.max(...all), room = (high - low || 1) / 20;
    return [low - room, high + room];
  }

  // Eight times in ten filled, the average ringed, a bad year as a diamond, even drawn through.
  function bar(range, ends) {
    const at = value => place(value, ends), zero = at(0), bad = at(range.bad), low = at(range.low), high = at(range.high);
    const said = `Keeping against selling now: 8 times in 10 between ${money(range.low)} and ${money(range.high)} a head, ${money(range.average)} on average, ${money(range.bad)} in a bad year.`;
    return `<svg class="bar" height="70" role="img" aria-label="${said}">` +
      line(0, 100, 37, 37, LINE, 1) + line(bad, low, 37, 37, INK, 2, ' stroke-dasharray="2 3"') +
      `<rect x="${low}%" width="${high - low}%" y="30" height="14" fill="${DEEP}"/>` + line(zero, zero, 19, 50, "#fff", 5) + line(zero, zero, 19, 50, INK, 2) +
      `<circle cx="${at(range.average)}%" cy="37" r="6" fill="#fff" stroke="${INK}" stroke-width="2.5"/>` +
      `<svg x="${bad}%" y="37" overflow="visible"><path d="M0-7 7 0 0 7-7 0Z" fill="#fff" stroke="${INK}" stroke-width="2"/></svg>` +
      word(bad, 16, `bad year ${money(range.bad)}`) + (zero - bad > APART_ABOVE ? word(zero, 16, "even") : "") +
      word(low, 66, money(range.low)) + (high - low > APART ? word(high, 66, money(range.high)) : "") + "</svg>";
  }

  // One row a month, one bar a program: filled, hollow, hatched in turn; the ring is the average.
  function months(rows, ends) {
    const looks = [[DEEP, DEEP], ["#fff", DEEP], ["url(#hatch)", DEEP]];
    return rows.map(row => {
      const height = 8 + 17 * row.ranges.length;
      const drawn = row.ranges.map((range, k) => {
        const [fill, edge] = looks[k % looks.length], y = 4 + 17 * k, low = place(range.low, ends), high = place(range.high, ends);
        return `<rect x="${low}%" width="${high - low}%" y="${y}" height="11" fill="${fill}" stroke="${edge}" stroke-width="2"/>` +
          `<circle cx="${place(range.average, ends)}%" cy="${y + 5.5}" r="5.5" fill="#fff" stroke="${INK}" stroke-width="2.5"/>`;
      }).join("");
      const zero = place(0, ends);
      return `<svg class="bar" height="${height}" aria-hidden="true">${line(zero, zero, -5, height + 5, "#fff", 5)}${line(zero, zero, -5, height + 5, INK, 2)}${drawn}</svg>`;
    });
  }

  return {money, axis, bar, months};
})();
