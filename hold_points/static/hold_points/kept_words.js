// The words that the scripts of the walks show, in the page's language, and who is at the tablet.

const words = document.getElementById("kept-words");
const texts = new Map(
  [...(words?.content.querySelectorAll("[data-word]") ?? [])].map((one) => [one.dataset.word, one.textContent]),
);

export const offline = words?.dataset.offline === "yes" && window.isSecureContext && "indexedDB" in window;
export const person = Number(words?.dataset.person ?? 0);
export const personName = words?.dataset.name ?? "";
export const addresses = { who: words?.dataset.who, kept: words?.dataset.kept, worker: words?.dataset.worker };
export const isCopy = Boolean(document.querySelector("[data-copied]:not([hidden])"));

export function say(name, values = {}) {
  const text = texts.get(name) ?? name;
  return text.replace(/\[(\w+)\]/g, (whole, key) => values[key] ?? whole);
}

// '10:12', and with its day when it was not today.
export function sayTime(moment, withDay = null) {
  const then = new Date(moment);
  const lang = document.documentElement.lang || "en";
  const time = then.toLocaleTimeString(lang, { hour: "numeric", minute: "2-digit", hourCycle: "h23" });
  if (!(withDay ?? then.toDateString() !== new Date().toDateString())) return time;
  const part = (options) => then.toLocaleDateString(lang, options);
  return `${part({ weekday: "short" })} ${part({ day: "numeric" })} ${part({ month: "short" })}, ${time}`;
}

// 'met, 31 mm' of what was kept.
export function sayAct(item) {
  const number = item.value ? `, ${item.value} ${item.unit ?? ""}`.trimEnd() : "";
  const hand = item.own_hand ? `, ${say("own-hand")}` : "";
  return `${say(`act ${item.act}`)}${number}${hand}`;
}
