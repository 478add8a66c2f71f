// Runs before the first paint so that no page ever flashes white in the dark, and asks for the words of the reader's language.
// The same rules stand in src/palette.ts, which takes over once the page runs, and in src/settings.ts; test/palette-rule.test.ts
// and test/language-rule.test.ts hold them together.
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

  // The build (plugins/words.ts) notes on this script where each language's words are; `npm run dev` does not.
  function askForWords(addresses) {
    function known(tag) {
      return Object.keys(addresses).indexOf(tag) >= 0;
    }
    var wished = (navigator.languages || [navigator.language]).map(function (tag) {
      return tag.slice(0, 2).toLowerCase();
    });
    var language = [kept("language")].concat(wished).filter(known)[0] || "en";
    if (!known(language)) return;
    // The program would ask for them only once all of it is here: a way to the daemon and back later.
    var link = document.createElement("link");
    link.rel = "modulepreload";
    link.href = addresses[language];
    document.head.append(link);
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

  askForWords(document.currentScript.dataset);
  var chosen = kept("palette");
  var shown = PAPER[chosen] ? chosen : chosen === "clock" ? byTime() : matchMedia("(prefers-color-scheme: dark)").matches ? "dusk" : "day";
  document.documentElement.dataset.palette = shown;
  // What the browser itself paints: the window's frame, and the page before its style sheet is there.
  document.querySelector('meta[name="theme-color"]').content = PAPER[shown];
  document.querySelector('meta[name="color-scheme"]').content = shown === "day" ? "light" : "dark";
})();
