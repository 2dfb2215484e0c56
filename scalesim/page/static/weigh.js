/**
 * A ranking that its reader weighs: sliders for groups of measures, and the order and bands that follow.
 * A plain ES module, to be served as a file or inlined less every line that starts with import or export.
 * The look is in weigh.css; the page holds the order at equal weights already, for readers without scripts.
 *
 * @typedef {{chains: string[], weights: {label: string, tells: boolean}[], groups: number[],
 *   ranks: (number|null)[][][], draws: string, agreeing: number[][], span: number[]}} Ranking
 *   `ranks[measure][frame][chain]`; `groups[measure]` is the number of its weight; `draws` says resample by
 *   resample how often each frame counts, a digit of base 36 each; `agreeing[chain]` is of captured ones; all
 *   scores lie in `span`.
 * @typedef {{chain: number, place: ?number, score: ?number, low: ?number, high: ?number, lead: ?number}} Place
 */

const STEPS = [0, 0.25, 0.5, 0.75, 1, 1.25, 1.5, 1.75, 2, 2.25, 2.5, 2.75, 3, 3.25, 3.5, 3.75, 4];
const SAME = 1e-9; // scores that differ by no more are equal
const BAND = 0.05; // share of the resamples beyond each end of a band

/** The mean of each measure's ranks over frames that count so often: [measure][chain], NaN without frames. */
function meansOver(ranks, counts) {
  return ranks.map((frames) => frames[0].map((_, chain) => {
    let total = 0, weight = 0;
    frames.forEach((row, frame) => {
      if (row[chain] === null) return;
      total += counts[frame] * row[chain];
      weight += counts[frame];
    });
    return weight > 0 ? total / weight : NaN;
  }));
}

/** Each chain's score: the mean of those means, each as much as its group is weighed. */
function scoresOf(means, groups, weights) {
  return means[0].map((_, chain) => {
    let total = 0, weight = 0;
    means.forEach((own, measure) => {
      if (Number.isNaN(own[chain])) return;
      total += weights[groups[measure]] * own[chain];
      weight += weights[groups[measure]];
    });
    return weight > 0 ? total / weight : NaN;
  });
}

/** What places go by: the scores; of a captured chain that of the nearest prediction it agrees with. */
function standingsOf(scores, agreeing) {
  return scores.map((own, chain) => {
    const near = [...agreeing[chain]].sort((a, b) => Math.abs(scores[a] - own) - Math.abs(scores[b] - own));
    return near.length ? scores[near[0]] : own;
  });
}

/** The numbers of chains, best first, those without a score last. */
const ordered = (standings) => standings.map((_, chain) => chain).sort(
  (a, b) => (Number.isNaN(standings[a]) - Number.isNaN(standings[b])) || standings[a] - standings[b] || a - b);

/** Who is first: one, several in a tie, none where nothing counts. */
function firstOf(standings) {
  const least = Math.min(...standings.filter((value) => !Number.isNaN(value)));
  return standings.flatMap((value, chain) => (value <= least + SAME ? [chain] : []));
}

class Weigher {
  /** @param {Ranking} ranking */
  constructor(ranking) {
    const frames = ranking.ranks[0].length;
    this.ranking = ranking;
    this.means = meansOver(ranking.ranks, Array(frames).fill(1));
    this.resamples = [];
    for (let at = 0; at < ranking.draws.length; at += frames) {
      const counts = [...ranking.draws.slice(at, at + frames)].map((digit) => parseInt(digit, 36));
      this.resamples.push(meansOver(ranking.ranks, counts));
    }
  }

  standings(weights) {
    return standingsOf(scoresOf(this.means, this.ranking.groups, weights), this.ranking.agreeing);
  }

  /** The order at some weights, one for each group. @returns {Place[]} */
  order(weights) {
    const { groups, agreeing } = this.ranking;
    const scores = scoresOf(this.means, groups, weights);
    const standings = standingsOf(scores, agreeing);
    const drawn = this.resamples.map((means) => scoresOf(means, groups, weights));
    const lead = standings.map(() => 0);
    for (const each of drawn) {
      const first = firstOf(each);
      if (first.length === 1) lead[first[0]] += 1;
    }
    const number = (value) => (Number.isFinite(value) ? value : null);
    return ordered(standings).map((chain) => {
      const ranked = !Number.isNaN(standings[chain]);
      const before = standings.filter((value) => value < standings[chain] - SAME).length;
      const own = drawn.map((each) => each[chain]).sort((a, b) => a - b);
      const whole = own.length > 0 && !own.some(Number.isNaN);
      const cut = Math.round(own.length * BAND);
      return {
        chain,
        place: ranked ? before + 1 : null,
        score: number(scores[chain]),
        low: whole ? own[cut] : null,
        high: whole ? own[own.length - 1 - cut] : null,
        lead: whole ? lead[chain] / drawn.length : null,
      };
    });
  }

  /** Who is first as one group is weighed from none to most: [{from, to, first}], steps that are alike as one. */
  winners(weights, group) {
    const runs = [];
    for (const [step, weight] of STEPS.entries()) {
      const first = firstOf(this.standings(weights.map((own, k) => (k === group ? weight : own))));
      const last = runs.at(-1);
      if (last && String(last.first) === String(first)) last.to = step;
      else runs.push({ from: step, to: step, first });
    }
    return runs;
  }
}

// The page

const listed = (names) => (names.length < 2 ? names.join("") : `${names.slice(0, -1).join(", ")} and ${names.at(-1)}`);
const times = (weight) => (weight === 0 ? "not counted" : `counts ${weight === 1 ? "once" : `${weight} times`}`);
const counted = (count, what) => `${count} ${what}${count === 1 ? "" : "s"}`;

/** A value of 0 or more in digits, as the tables print it: an exact half goes to the even digit (toFixed takes it up). */
function printed(value, digits) {
  const up = value.toFixed(digits);
  const half = (value * 2 ** (digits + 1)) % 2 === 1; // no other binary number is half a digit exactly
  return half && Number(up.at(-1)) % 2 ? (value - 0.25 / 10 ** digits).toFixed(digits) : up;
}

const score = (value) => (value === null ? "\u2013" : printed(value, 2));
const percent = (share) => `${printed(100 * share, 0)}\u00a0%`;

class WeighingPage {
  constructor(host, ranking) {
    this.host = host;
    this.ranking = ranking;
    this.weigher = new Weigher(ranking);
    this.inputs = [...host.querySelectorAll("input[type=range]")];
    this.said = host.querySelector("[role=status]");
    this.body = host.querySelector("tbody");
    this.rows = new Map([...this.body.rows].map((row) => [Number(row.dataset.chain), row]));
    for (const name of ["tools", "now"]) host.querySelector(`.weighing-${name}`).hidden = false;
    this.inputs.forEach((input) => input.addEventListener("input", () => this.show()));
    host.querySelector("button").onclick = () => {
      this.inputs.forEach((input) => { input.value = 1; });
      this.show();
    };
    this.show();
  }

  /** The weights as they are set; a group without a slider counts once. */
  get weights() {
    const weights = this.ranking.weights.map(() => 1);
    this.inputs.forEach((input) => { weights[Number(input.dataset.group)] = Number(input.value); });
    return weights;
  }

  show() {
    const { weights } = this;
    const order = this.weigher.order(weights);
    for (const place of order) {
      this.fill(this.rows.get(place.chain), place);
      this.body.append(this.rows.get(place.chain));
    }
    for (const input of this.inputs) this.strip(input, weights);
    this.tell(order, weights);
  }

  fill(row, { place, score: own, low, high, lead }) {
    const [number, , drawn, mean, alone] = row.cells;
    const [first, last] = this.ranking.span;
    const share = (value) => `${(100 * value) / (last - first)}%`;
    number.textContent = place ?? "\u2013";
    mean.textContent = score(own);
    if (alone) alone.textContent = lead === null ? "\u2013" : percent(lead);
    const [band, dot] = drawn.querySelectorAll("span span");
    band.hidden = low === null;
    dot.hidden = own === null;
    if (low !== null) Object.assign(band.style, { left: share(low - first), width: share(high - low) });
    if (own !== null) dot.style.left = share(own - first);
  }

  /** Below a slider: who is first wherever it stands. */
  strip(input, weights) {
    const runs = this.weigher.winners(weights, Number(input.dataset.group));
    const now = Number(input.value);
    const make = (run, text) => {
      const part = document.createElement("span");
      part.classList.toggle("now", STEPS[run.from] <= now && now <= STEPS[run.to]);
      part.textContent = text;
      return part;
    };
    const drawn = runs.map((run) => {
      const part = make(run, "");
      const ends = (run.from === 0) + (run.to === STEPS.length - 1); // the slider ends in mid-step
      part.style.flexGrow = run.to - run.from + 1 - ends / 2;
      return part;
    });
    const said = runs.map((run) => {
      const from = STEPS[run.from], to = STEPS[run.to];
      const names = listed(run.first.map((chain) => this.ranking.chains[chain]));
      const who = run.first.length > 1 ? `tie of ${names}` : names || "nothing counts";
      return make(run, runs.length === 1 ? `${who} wherever it stands` : `${who} ${from === to ? "at" : "from"} ${from}${from === to ? "" : ` to ${to}`}`);
    });
    const tools = input.closest("div");
    tools.querySelector(".strip").replaceChildren(...drawn);
    tools.querySelector(".winners").replaceChildren(...said.flatMap((part, k) => (k ? ["; ", part] : [part])));
    const counts = times(now);
    tools.querySelector("output").textContent = counts;
    input.setAttribute("aria-valuetext", counts);
  }

  /** Who has the best mean rank, and how far ahead: whether that makes a leader is not the weights' to say. */
  tell(order, weights) {
    const where = weights.every((weight) => weight === weights[0]) ? "At equal weights" : "At these weights";
    const ranked = order.filter(({ place }) => place !== null);
    const first = ranked.filter(({ place }) => place === 1);
    const names = (places) => listed(places.map(({ chain }) => this.ranking.chains[chain]));
    if (!first.length) return void (this.said.textContent = "Nothing counts: weigh something above 0.");
    const best = `${score(first[0].score)}, on ${counted(this.ranking.ranks[0].length, "frame")}`;
    if (first.length > 1) return void (this.said.textContent = `${where}, ${names(first)} share the best mean rank (${best}).`);
    const after = ranked.find(({ place }) => place > 1); // a captured chain that agrees with it has its own score
    const next = ranked.filter(({ place, score: own }) => place === after?.place && Math.abs(own - after.score) <= SAME);
    const ahead = after ? `, ${score(after.score - first[0].score)} ahead of ${names(next)}` : "";
    const sure = first[0].lead === null ? "" : `; alone first in ${percent(first[0].lead)} of their resamples`;
    this.said.textContent = `${where}, ${names(first)} has the best mean rank (${best})${ahead}${sure}.`;
  }
}

export { Weigher, WeighingPage, printed };

if (typeof document !== "undefined")
  for (const host of document.querySelectorAll("[data-weighing]")) {
    const data = document.getElementById(host.dataset.weighing).textContent;
    host.weighing = new WeighingPage(host, JSON.parse(data));
  }
