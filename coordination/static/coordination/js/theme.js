// The theme switch in the head: remembered in localStorage (this device) and in a cookie (so that the server
// draws the next page in it and nothing flashes). Without JavaScript the page follows the device.

const THEMES = ["auto", "light", "dark", "sunlight"];
const KEY = "theme";
const YEAR = 60 * 60 * 24 * 365;

function remembered() {
  try {
    return localStorage.getItem(KEY);
  } catch {
    return null; // storage may be refused; the cookie still remembers
  }
}

function remember(theme) {
  const secure = location.protocol === "https:" ? "; Secure" : "";
  document.cookie = `${KEY}=${theme}; Path=/; Max-Age=${YEAR}; SameSite=Lax${secure}`;
  try {
    localStorage.setItem(KEY, theme);
  } catch {
    // see remembered()
  }
}

function show(theme) {
  document.documentElement.dataset.theme = theme;
}

const saved = remembered();
if (THEMES.includes(saved) && saved !== document.documentElement.dataset.theme) {
  show(saved); // the cookie was cleared, or another tab changed it
  remember(saved);
}

const control = document.querySelector("[data-theme-switch]");
if (control) {
  const select = control.querySelector("select");
  select.value = document.documentElement.dataset.theme;
  control.hidden = false;
  select.addEventListener("change", () => {
    show(select.value);
    remember(select.value);
  });
}
