// What cannot be right is said at once, before it is kept: in the evening it could not be looked at again.
// The server asks the same and more (hold_points/entering.py); this looks only at what the page knows.

import { say } from "./kept_words.js";

export const LARGEST = 15 * 1024 * 1024; // bytes of a photograph, as on the server

const TINY = 1e-9;

export function readNumber(text) {
  const plain = text.trim().replace(",", ".");
  if (!plain) return null;
  return /^[-+]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : NaN;
}

function isWithin(check, value) {
  if (check.limit === "") return true;
  const limit = Number(check.limit);
  if (check.compare === "at most") return value <= limit + TINY;
  if (check.compare === "equals") return Math.abs(value - limit) <= TINY;
  if (check.compare === "between" && check.limitHigh !== "" && value > Number(check.limitHigh) + TINY) return false;
  return value >= limit - TINY;
}

// The words of what is wrong, or '' when it can be kept. `check`: the data of the form.
export function findWrong(check, entered) {
  const { act, note, own_hand: ownHand } = entered;
  const good = act === "met" || act === "put right";
  const numbered = check.kind === "counted" || check.kind === "measured";
  if (ownHand && act !== "put right") return say("wrong-hand");
  if (ownHand && !entered.hasPhoto) return say("wrong-hand-photo");
  if (act === "not on this house" && check.placed === "yes" && note.trim().length < 3) return say("wrong-not-here");
  if (!numbered) return "";
  const value = readNumber(entered.value);
  if (Number.isNaN(value)) return say("wrong-number", { text: entered.value });
  if (value === null) {
    if (good) return say("wrong-no-number");
    return act === "not met" && !note.trim() ? say("wrong-no-number-no-note") : "";
  }
  if (check.kind === "counted" && (value < 0 || !Number.isInteger(value))) return say("wrong-count");
  const within = isWithin(check, value);
  if (good && !within) return say("wrong-outside", { value: entered.value, limit: check.limitWords });
  if (act === "not met" && within && !note.trim()) return say("wrong-within", { value: entered.value, limit: check.limitWords });
  return "";
}
