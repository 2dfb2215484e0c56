/** A chain's text form and the addresses of its keys, as the command line reads them. */

const quoted = (value, more = "") =>
  value && !new RegExp(`[\\s,='${more}]`).test(value) ? value : `'${value.replaceAll("'", "''")}'`;

const stageText = ({ kind, keys }) =>
  [kind, ...Object.entries(keys).map(([key, value]) => `${key}=${quoted(String(value))}`)].join(" ");

/** Return the text of a chain: without the stages that are off, unless `all`. */
function chainText({ name = "", stages }, all = false) {
  const body = stages.filter(({ off }) => all || !off).map(stageText).join(", ");
  return name && body ? `${quoted(name, ":")}: ${body}` : body;
}

/** Return the address of a stage's key among those that are on, or `all`: "kind.key", "kind#2.key". */
function addressOf(stages, stage, key, all = false) {
  const alike = stages.filter(({ kind, off }) => kind === stage.kind && (all || !off));
  const at = alike.indexOf(stage);
  return `${stage.kind}${at > 0 ? `#${at + 1}` : ""}.${key}`;
}

/** Return the stage and key that an address means, or null. */
function atAddress(stages, address, all = false) {
  const [, kind, number, key] = /^([^.#]+)(?:#(\d+))?\.(.+)$/.exec(address) ?? [];
  const stage = stages.filter((each) => each.kind === kind && (all || !each.off))[Number(number ?? 1) - 1];
  return stage ? { stage, key } : null;
}

/** Return what is on the bench as it can be put there again: name, stages, and dials by their addresses among all. */
function benchOf({ name, stages, dials }) {
  const own = (uid) => stages.find((each) => each.uid === uid);
  return {
    name,
    stages: stages.map(({ kind, keys, off }) => ({ kind, keys: { ...keys }, off })),
    dials: dials.filter(({ uid }) => own(uid)).map(({ uid, key, values, ...dial }) =>
      ({ ...dial, key: addressOf(stages, own(uid), key, true), values, steps: values })),
  };
}

/** Return a chain as TOML with the steps of its dials, for what counts in presses. */
function chainToml({ name, stages, dials }) {
  const line = ([key, value]) => `${key} = ${JSON.stringify(String(value))}`;
  const stage = ({ kind, keys }) => ["[[stage]]", line(["kind", kind]), ...Object.entries(keys).map(line)].join("\n");
  const dial = ({ uid, key, values, label }) => {
    const own = stages.find((each) => each.uid === uid && !each.off);
    if (!own) return [];
    const steps = `steps = [${values.map((each) => JSON.stringify(each)).join(", ")}]`;
    return [["[[dial]]", line(["key", addressOf(stages, own, key)]), steps, ...(label ? [line(["label", label])] : [])].join("\n")];
  };
  return [...(name ? [line(["name", name])] : []), ...stages.filter(({ off }) => !off).map(stage), ...dials.flatMap(dial)].join("\n\n");
}

/** The number that a text says, "1/3" and "4:3" too; NaN for none. */
function numberOf(text) {
  const [, above, below] = /^\s*([+-]?\d+)\s*[/:]\s*(\d+)\s*$/.exec(text ?? "") ?? [];
  if (above !== undefined) return Number(above) / Number(below);
  return String(text ?? "").trim() === "" ? NaN : Number(text);
}

/** Whether two texts say the same number. */
const same = (a, b) => Math.abs(numberOf(a) - numberOf(b)) < 1e-9;

/** A number as a text without digits that binary fractions bring along. */
const numberText = (value) => String(+value.toFixed(6));

/** Words about a file: its name once. */
const about = (name, words) => (words.startsWith(name) ? words : `${name}: ${words}`);

export { about, addressOf, atAddress, benchOf, chainText, chainToml, numberOf, numberText, same, stageText };
