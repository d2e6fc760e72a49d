// What stands around the lines of a chart: steps, limits, windows, excursions, alarms. Drawn with hatchings, so that it reads in grey.
"use strict";

const marks = (() => {
  const ratio = () => window.devicePixelRatio || 1;

  function token(name) {
    return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  }

  function hatch(context, colour, rising) {
    const size = Math.round(8 * ratio());
    const tile = document.createElement("canvas");
    tile.width = tile.height = size;
    const pen = tile.getContext("2d");
    pen.strokeStyle = colour;
    pen.lineWidth = 1.4 * ratio();
    pen.beginPath();
    for (const shift of [-size, 0, size]) {
      pen.moveTo(shift - 1, rising ? size + 1 : -1);
      pen.lineTo(shift + size + 1, rising ? -1 : size + 1);
    }
    pen.stroke();
    return context.createPattern(tile, "repeat");
  }

  // The part of [from, to] that is in view, in canvas pixels; null where none is.
  function across(u, from, to) {
    const { min, max } = u.scales.x;
    const end = to === null ? max : to;
    if (from > max || end < min) return null;
    const left = u.valToPos(Math.max(from, min), "x", true);
    const right = u.valToPos(Math.min(end, max), "x", true);
    return { left, width: Math.max(right - left, 2 * ratio()) };
  }

  function shortened(context, words, room) {
    if (context.measureText(words).width <= room) return words;
    let most = words.length;
    while (most > 1 && context.measureText(words.slice(0, most) + "…").width > room) most -= 1;
    return most > 2 ? words.slice(0, most) + "…" : "";
  }

  function clipped(u, draw) {
    const { ctx: context, bbox } = u;
    context.save();
    context.beginPath();
    context.rect(bbox.left, bbox.top, bbox.width, bbox.height);
    context.clip();
    draw(context, bbox);
    context.restore();
  }

  // Behind the lines: coats and bakes shaded, excursions hatched.
  function behind(u, data, panel) {
    clipped(u, (context, bbox) => {
      context.fillStyle = token("--trace-shade");
      for (const step of data.steps) {
        const span = across(u, step.from, step.to);
        if (span && (step.kind === "coat" || step.kind === "bake")) context.fillRect(span.left, bbox.top, span.width, bbox.height);
      }
      for (const one of panel.excursions) {
        const span = across(u, one.from, one.to);
        if (!span) continue;
        context.fillStyle = hatch(context, token(one.verdict === "missed" ? "--bad" : "--open"), one.verdict === "missed");
        context.fillRect(span.left, bbox.top, span.width, bbox.height);
      }
    });
  }

  // Over the lines: limits as heavy rules, hatched where the value may not be.
  function limits(u, panel) {
    clipped(u, (context) => {
      const ink = token("--ink");
      const depth = 8 * ratio();
      for (const one of panel.limits) {
        const span = across(u, one.from, one.to);
        if (!span) continue;
        for (const [value, side] of [[one.low, 1], [one.high, -1]]) {
          if (value === null) continue;
          const y = u.valToPos(value, "y", true);
          context.fillStyle = hatch(context, ink, side > 0);
          context.fillRect(span.left, side > 0 ? y : y - depth, span.width, depth);
          context.fillStyle = ink;
          context.fillRect(span.left, y - ratio(), span.width, 2 * ratio());
        }
      }
    });
  }

  // Above the first chart: the steps by name, the windows as brackets, the alarms as flags.
  function above(u, data, font) {
    const { ctx: context, bbox } = u;
    const unit = ratio();
    context.save();
    context.font = font;
    context.textBaseline = "middle";
    context.textAlign = "left";
    context.setLineDash([]);
    const ink = token("--ink");
    for (const step of data.steps) {
      const span = across(u, step.from, step.to);
      if (!span) continue;
      context.fillStyle = step.kind === "coat" || step.kind === "bake" ? token("--trace-shade") : "transparent";
      context.fillRect(span.left, bbox.top - 44 * unit, span.width, 22 * unit);
      context.strokeStyle = token("--line");
      context.lineWidth = unit;
      context.strokeRect(span.left, bbox.top - 44 * unit, span.width, 22 * unit);
      context.fillStyle = ink;
      context.fillText(shortened(context, step.label, span.width - 6 * unit), span.left + 3 * unit, bbox.top - 33 * unit);
    }
    for (const one of data.windows) {
      const span = across(u, one.from, one.to);
      if (!span) continue;
      const y = bbox.top - 12 * unit;
      context.strokeStyle = ink;
      context.lineWidth = 2 * unit;
      context.setLineDash([5 * unit, 3 * unit]);
      context.beginPath();
      context.moveTo(span.left, y);
      context.lineTo(span.left + span.width, y);
      context.stroke();
      context.setLineDash([]);
      context.beginPath();
      for (const x of [span.left, span.left + span.width]) {
        context.moveTo(x, y - 5 * unit);
        context.lineTo(x, y + 5 * unit);
      }
      context.stroke();
    }
    for (const one of data.alarms) {
      const span = across(u, one.from, one.from);
      if (!span) continue;
      const y = bbox.top;
      context.fillStyle = token(one.priority === "warning" ? "--warn" : "--bad");
      context.beginPath();
      context.moveTo(span.left, y);
      context.lineTo(span.left - 6 * unit, y - 11 * unit);
      context.lineTo(span.left + 6 * unit, y - 11 * unit);
      context.fill();
    }
    context.restore();
  }

  return { token, behind, limits, above };
})();
