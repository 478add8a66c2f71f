// Runs before the first paint so that no page ever flashes white in the dark.
// The same rule stands in src/palette.ts, which takes over once the page runs.
(function () {
  var chosen = "auto";
  try {
    chosen = localStorage.getItem("taffrail.palette") || "auto";
  } catch (_) {
    // Storage refused (private window): follow the system.
  }
  var dark = matchMedia("(prefers-color-scheme: dark)").matches;
  var known = chosen === "day" || chosen === "dusk" || chosen === "night";
  document.documentElement.dataset.palette = known ? chosen : dark ? "dusk" : "day";
})();
