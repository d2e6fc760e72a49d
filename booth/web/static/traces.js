// The traces of one record: charts over one stretch of time, zoomed by drag, buttons, keys or the list of steps. Readings are
// fetched for the stretch in view, as fine as the screen can show.
"use strict";

(() => {
  const box = document.getElementById("charts");
  if (!box || typeof uPlot === "undefined") return;

  const zone = box.dataset.zone;
  const shownText = document.getElementById("shown");
  const stretch = document.getElementById("stretch");
  const SHORTEST_S = 10;
  const DASHES = [[], [9, 3], [3, 3], [12, 3, 3, 3], [6, 2], [14, 4]];
  const EDGES = ["solid", "dashed", "dotted", "double", "dashed", "solid"];
  const format = (options) => new Intl.DateTimeFormat("en-GB", { timeZone: zone, hourCycle: "h23", ...options });
  const clock = format({ hour: "2-digit", minute: "2-digit" });
  const clockSeconds = format({ hour: "2-digit", minute: "2-digit", second: "2-digit" });
  const exact = format({ day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", second: "2-digit", timeZoneName: "shortOffset" });

  let data = null;
  let view = null; // [from, to] in seconds
  let plots = [];
  let asked = 0;
  let waiting = 0;

  const say = (words) => { shownText.textContent = words; };
  const at = (seconds, with_) => with_.format(new Date(seconds * 1000));

  async function fetchStretch() {
    const mine = ++asked;
    const url = new URL(box.dataset.url, location.href);
    if (view) url.search = new URLSearchParams({ from: view[0], to: view[1] });
    url.searchParams.set("columns", Math.round(Math.max(200, box.clientWidth)));
    try {
      const answer = await fetch(url);
      if (!answer.ok) throw new Error(answer.status);
      const fresh = await answer.json();
      if (mine !== asked) return;
      const first = data === null;
      data = fresh;
      view = view || data.whole.slice();
      if (first) fillList();
      draw(first);
      tell();
    } catch (problem) {
      say("The readings of this stretch could not be fetched; what is drawn is rougher, or empty.");
    }
  }

  function tell() {
    const raw = data.panels.every((panel) => panel.lines.every((line) => line.raw));
    const fineness = raw ? "every reading" : "lowest and highest reading of each pixel";
    say(`${at(view[0], exact)} to ${at(view[1], exact)}; ${fineness}`);
    box.dataset.ready = "yes";
    box.dataset.from = view[0];
    box.dataset.to = view[1];
  }

  function show(from, to) {
    const [first, last] = data.whole;
    const span = Math.min(Math.max(to - from, SHORTEST_S), last - first);
    const begin = Math.min(Math.max(from, first), last - span);
    if (view && Math.abs(view[0] - begin) < 0.01 && Math.abs(view[1] - begin - span) < 0.01) return;
    view = [begin, begin + span];
    for (const plot of plots) plot.setScale("x", { min: view[0], max: view[1] });
    clearTimeout(waiting);
    waiting = setTimeout(fetchStretch, 120);
  }

  function zoom(factor) {
    const middle = (view[0] + view[1]) / 2;
    const half = ((view[1] - view[0]) * factor) / 2;
    show(middle - half, middle + half);
  }

  function pan(share) {
    const by = (view[1] - view[0]) * share;
    show(view[0] + by, view[1] + by);
  }

  const acts = {
    in: () => zoom(0.5),
    out: () => zoom(2),
    earlier: () => pan(-0.25),
    later: () => pan(0.25),
    whole: () => show(...data.whole),
  };

  function fillList() {
    data.steps.forEach((step, index) => stretch.add(new Option(step.label, index)));
  }

  // ---- drawing ----

  function values(u, splits, _axis, _space, step) {
    const form = step < 60 ? clockSeconds : clock;
    return splits.map((second) => at(second, form));
  }

  function yRange(panel) {
    return (u, low, high) => {
      const inView = panel.limits.filter((one) => one.to > view[0] && one.from < view[1]);
      const all = [low, high, ...inView.flatMap((one) => [one.low, one.high])].filter((value) => value !== null && value !== undefined);
      if (!all.length) return [0, 1];
      const least = Math.min(...all);
      const most = Math.max(...all);
      const pad = Math.max((most - least) * 0.08, panel.digits === 2 ? 0.05 : 0.5);
      return [least - pad, most + pad];
    };
  }

  // A null in a line is a silence, and covers whatever other lines have until this one speaks again.
  function joined(panel) {
    const NULL_EXPAND = 2;
    return uPlot.join(panel.lines.map((line) => [line.times, line.values]), panel.lines.map(() => [0, NULL_EXPAND]));
  }

  function options(panel, index, width) {
    const size = parseFloat(getComputedStyle(box).fontSize);
    const face = `${Math.round(size * 0.86)}px ${getComputedStyle(document.body).fontFamily}`;
    const scaled = `${Math.round(size * 0.8 * (window.devicePixelRatio || 1))}px ${getComputedStyle(document.body).fontFamily}`;
    const axis = { stroke: marks.token("--ink"), grid: { stroke: marks.token("--hair"), width: 1 }, ticks: { stroke: marks.token("--line") }, font: face };
    return {
      width,
      height: Math.round(size * (index === 0 ? 19 : 13)),
      title: `${panel.title}, ${panel.unit}`,
      padding: [index === 0 ? 50 : 10, 14, 0, 0],
      scales: { x: { time: true, range: () => view }, y: { range: yRange(data.panels[index]) } },
      axes: [{ ...axis, values, space: size * 5 }, { ...axis, size: size * 4, values: (u, splits) => splits.map((one) => String(+one.toFixed(4)).replace("-", "−")) }],
      series: [
        { label: "Time", value: (u, second) => (second === null ? "–" : at(second, exact)) },
        ...panel.lines.map((line, number) => ({
          label: line.label,
          stroke: marks.token(`--trace-${number % 6}`),
          width: 1.8,
          dash: DASHES[number % DASHES.length],
          points: { show: false },
          value: (u, value) => (value === null || value === undefined ? "–" : `${value.toFixed(panel.digits).replace("-", "−")} ${panel.unit}`),
        })),
      ],
      legend: { markers: { width: 3, dash: (u, number) => EDGES[(number - 1) % EDGES.length] } },
      cursor: {
        drag: { x: true, y: false, setScale: false },
        sync: { key: "record" },
        bind: { dblclick: () => () => { acts.whole(); return null; } },
      },
      hooks: {
        drawAxes: [(u) => marks.behind(u, data, data.panels[index])],
        draw: [
          (u) => marks.limits(u, data.panels[index]),
          (u) => { if (index === 0) marks.above(u, data, scaled); },
        ],
        setSelect: [
          (u) => {
            if (u.select.width < 6) return;
            const from = u.posToVal(u.select.left, "x");
            const to = u.posToVal(u.select.left + u.select.width, "x");
            u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
            show(from, to);
          },
        ],
      },
    };
  }

  const same = () => plots.length === data.panels.length && plots.every((plot, index) => plot.series.length === data.panels[index].lines.length + 1);

  function draw(anew) {
    if (!anew && same()) {
      plots.forEach((plot, index) => plot.setData(joined(data.panels[index])));
      return;
    }
    for (const plot of plots) plot.destroy();
    plots = data.panels.map((panel, index) => {
      const plot = new uPlot(options(panel, index, box.clientWidth), joined(panel), box);
      plot.root.querySelector("canvas").setAttribute("aria-hidden", "true");
      return plot;
    });
  }

  // ---- hands ----

  box.addEventListener("click", (event) => {
    const act = event.target.closest("button")?.dataset.do;
    if (act && view) acts[act]();
  });
  const keys = { "+": "in", "=": "in", "-": "out", ArrowLeft: "earlier", ArrowRight: "later", Home: "whole" };
  box.addEventListener("keydown", (event) => {
    if (!(event.key in keys) || !view || event.target !== box || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    acts[keys[event.key]]();
  });
  stretch.addEventListener("change", () => {
    if (stretch.value === "") return acts.whole();
    const step = data.steps[Number(stretch.value)];
    const margin = Math.max((step.to - step.from) * 0.1, 30);
    show(step.from - margin, step.to + margin);
  });

  new ResizeObserver(() => {
    for (const plot of plots) if (Math.abs(plot.width - box.clientWidth) > 1) plot.setSize({ width: box.clientWidth, height: plot.height });
  }).observe(box);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { if (data) draw(true); });

  fetchStretch();
})();
