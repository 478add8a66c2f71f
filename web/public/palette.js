// Runs before the first paint so that no page ever flashes white in the dark.
// The same rule stands in src/palette.ts, which takes over once the page runs; test/palette-rule.test.ts holds the two together.
(function () {
  var PAPER = { day: "#fbfaf6", dusk: "#1a2329", night: "#000000" };
  var USUAL = { dawn: "06:00", day: "07:00", dusk: "19:00", night: "21:00" };

  function kept(name) {
    try {
      return localStorage.getItem("taffrail." + name);
    } catch (_) {
      // Storage refused (private window): follow the system.
      return null;
    }
  }

  function times() {
    var chosen = {};
    try {
      chosen = JSON.parse(kept("palette-times")) || {};
    } catch (_) {
      // Not what the page keeps there: the usual times hold.
    }
    return Object.keys(USUAL).map(function (name) {
      var start = /^([01]\d|2[0-3]):[0-5]\d$/.test(chosen[name]) ? chosen[name] : USUAL[name];
      return { start: start, palette: name === "dawn" ? "dusk" : name };
    });
  }

  function clock() {
    var form = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
    try {
      return new Intl.DateTimeFormat("en-GB", Object.assign({ timeZone: kept("zone") || undefined }, form)).format(Date.now());
    } catch (_) {
      // A zone that this browser doesn't know: its own.
      return new Intl.DateTimeFormat("en-GB", form).format(Date.now());
    }
  }

  function byTime() {
    var at = clock();
    var starts = times().sort(function (a, b) {
      return a.start < b.start ? -1 : a.start > b.start ? 1 : 0;
    });
    var begun = starts.filter(function (each) {
      return each.start <= at;
    });
    // Before the first of the day, the last of yesterday still holds.
    return (begun.length ? begun : starts).pop().palette;
  }

  var chosen = kept("palette");
  var shown = PAPER[chosen] ? chosen : chosen === "clock" ? byTime() : matchMedia("(prefers-color-scheme: dark)").matches ? "dusk" : "day";
  document.documentElement.dataset.palette = shown;
  // What the browser itself paints: the window's frame, and the page before its style sheet is there.
  document.querySelector('meta[name="theme-color"]').content = PAPER[shown];
  document.querySelector('meta[name="color-scheme"]').content = shown === "day" ? "light" : "dark";
})();
