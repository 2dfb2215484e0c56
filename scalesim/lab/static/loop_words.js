/** The bench loop in words: the presses to the best place, and whether the last ones did what they were to do. */

/** What of a capture's place is kept, by the keys of the job's document. */
const SAT = ["position_key", "now_lines", "now_lines_error", "best_lines", "move_lines", "presses", "clear"];

const SURE = 2; // standard errors
const signed = (value) => {
  const size = Math.abs(value).toFixed(2);
  return Number(size) ? `${value < 0 ? "−" : "+"}${size}` : "0";
};

/** The presses to the best place that was found, "" where the chain counts none. Parameters: label : of the dial */
function pressesTo({ position_key: key, presses, now_lines: now, best_lines: best, clear }, label) {
  if (!Number.isInteger(presses) || presses === 0) return "";
  const count = `${Math.abs(presses)} ${Math.abs(presses) === 1 ? "press" : "presses"} ${presses < 0 ? "back" : "forward"}`;
  const place = clear ? "the best place for this frame" : "which scores best for this frame, but not clearly";
  return `${count} of ${label || key}, from ${signed(now)} to ${signed(best)} lines, ${place}.`;
}

/**
 * Whether a capture sits where the one before it was to be moved to, "" where they do not compare.
 *
 * Both were held against the same frame; the difference of their places has both their errors.
 */
function confirmed(before, { name, sat }) {
  const then = before?.sat;
  const alike = then && ["frame", "chain", "position_key"].every((key) => then[key] === sat[key]);
  if (!alike || !then.move_lines) return "";
  const moved = sat.now_lines - then.now_lines;
  const error = Math.hypot(sat.now_lines_error, then.now_lines_error);
  const since = `Since ${before.name} it moved by ${signed(moved)} lines (± ${error.toFixed(2)})`;
  const close = Math.abs(moved - then.move_lines) <= Math.max(SURE * error, 0.005);
  if (close) return `${since}: ${name} confirms the move of ${signed(then.move_lines)} lines.`;
  return `${since}, where ${signed(then.move_lines)} lines were to be.`;
}

export { confirmed, pressesTo, SAT };
