// A skin of triangles turned by finger or keys, painted from back to front; the page's table says the same.
"use strict";
(() => {
  const source = document.getElementById("skin-data");
  const canvas = document.getElementById("skin");
  if (!source || !canvas) return;
  const data = JSON.parse(source.textContent);
  const pen = canvas.getContext("2d");
  const said = document.querySelector(".skin-place");
  const count = data.vertices.length;
  const middle = [0, 1, 2].map((k) => (Math.min(...data.vertices.map((v) => v[k])) + Math.max(...data.vertices.map((v) => v[k]))) / 2);
  // the span to the right, up is up, aft goes into the picture
  const places = data.vertices.map((v) => [v[2] - middle[2], v[1] - middle[1], v[0] - middle[0]]);
  const first = { turn: -0.6, tip: 0.5, size: 1 };
  let view = { ...first };
  let seen = [];
  const step = (off) => Math.max(0, Math.min(data.colours.length - 1, Math.floor((off / (data.reach * data.limit) + 1) / 2 * data.colours.length)));
  const hatch = (ink) => {
    const tile = document.createElement("canvas");
    tile.width = tile.height = 8;
    const c = tile.getContext("2d");
    c.strokeStyle = ink;
    c.lineWidth = 1;
    c.beginPath(); c.moveTo(0, 8); c.lineTo(8, 0); c.moveTo(-2, 2); c.lineTo(2, -2); c.moveTo(6, 10); c.lineTo(10, 6); c.stroke();
    return pen.createPattern(tile, "repeat");
  };
  // as large as it goes as it lies at first, with room for the lettering of its end stations
  const fitted = (wide, high) => {
    const [ct, st, cp, sp] = [Math.cos(first.turn), Math.sin(first.turn), Math.cos(first.tip), Math.sin(first.tip)];
    let [across, up] = [0, 0];
    for (const [x, y, z] of places) {
      across = Math.max(across, Math.abs(ct * x + st * z));
      up = Math.max(up, Math.abs(cp * y + sp * (ct * z - st * x)));
    }
    return Math.min((wide / 2 - 40) / across, (high / 2 - 26) / up);
  };
  const paint = () => {
    const ratio = window.devicePixelRatio || 1;
    const wide = canvas.clientWidth || 900;
    const high = Math.round(Math.min(Math.max(wide * 0.62, 300), 560));
    canvas.width = Math.round(wide * ratio);
    canvas.height = Math.round(high * ratio);
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    const style = getComputedStyle(canvas);
    const ink = style.color;
    const [ct, st, cp, sp] = [Math.cos(view.turn), Math.sin(view.turn), Math.cos(view.tip), Math.sin(view.tip)];
    const k = fitted(wide, high) * view.size;
    seen = new Array(count);
    for (let n = 0; n < count; n += 1) {
      const [x, y, z] = places[n];
      const across = ct * x + st * z;
      const deep = -st * x + ct * z;
      seen[n] = [wide / 2 + k * across, high / 2 - k * (cp * y + sp * deep), cp * deep - sp * y, across];
    }
    const order = data.triangles.map((t, n) => [seen[t[0]][2] + seen[t[1]][2] + seen[t[2]][2], n]).sort((a, b) => b[0] - a[0]);
    pen.clearRect(0, 0, wide, high);
    const paper = style.backgroundColor;
    // the scale as it is shown beside it: the page has one for paper and one for a dark sheet
    const shown = [...document.querySelectorAll(".skin-scale rect")].map((one) => getComputedStyle(one).fill);
    const colours = shown.length ? shown : data.colours;
    const lines = hatch(ink);
    pen.lineWidth = 0.6;
    for (const [, n] of order) {
      const [a, b, c] = data.triangles[n];
      const [p, q, r] = [seen[a], seen[b], seen[c]];
      const turned = (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
      pen.beginPath();
      pen.moveTo(p[0], p[1]); pen.lineTo(q[0], q[1]); pen.lineTo(r[0], r[1]); pen.closePath();
      const off = [data.off[a], data.off[b], data.off[c]];
      const measured = data.limit > 0 && off.every((v) => v !== null);
      pen.fillStyle = measured ? colours[step((off[0] + off[1] + off[2]) / 3)] : paper;
      pen.fill();
      if (!measured && data.limit > 0) { pen.fillStyle = lines; pen.globalAlpha = 0.45; pen.fill(); pen.globalAlpha = 1; }
      if (!(data.limit > 0)) { pen.globalAlpha = turned > 0 ? 0.08 : 0.22; pen.fillStyle = ink; pen.fill(); pen.globalAlpha = 1; }
      pen.strokeStyle = measured ? pen.fillStyle : ink;
      pen.globalAlpha = measured ? 1 : 0.18;
      pen.stroke();
      pen.globalAlpha = 1;
    }
    mark(ink);
  };
  // the two end stations are lettered, so that left and right keep their meaning while it turns
  const mark = (ink) => {
    const per = data.station.filter((s) => s === data.station[0]).length;
    pen.fillStyle = ink;
    pen.font = "600 15px 'Barlow Semi Condensed', 'Arial Narrow', sans-serif";
    for (const start of [0, count - per]) {
      const at = seen[start];
      pen.textAlign = at[3] < 0 ? "right" : "left";
      const shift = at[3] < 0 ? -6 : 6;
      const words = "STA " + data.station[start], wide = pen.measureText(words).width + 6, edge = canvas.clientWidth || 900;
      const x = at[3] < 0 ? Math.max(wide, Math.min(edge - 6, at[0] + shift)) : Math.max(6, Math.min(edge - wide, at[0] + shift));
      pen.fillText(words, x, at[1] - 8);
    }
  };
  const turnBy = (turn, tip) => { view.turn += turn; view.tip = Math.max(-1.5, Math.min(1.5, view.tip + tip)); paint(); };
  const grow = (by) => { view.size = Math.max(0.4, Math.min(6, view.size * by)); paint(); };
  const moves = {
    left: () => turnBy(-0.15, 0), right: () => turnBy(0.15, 0), up: () => turnBy(0, 0.12), down: () => turnBy(0, -0.12),
    nearer: () => grow(1.2), farther: () => grow(1 / 1.2), back: () => { view = { ...first }; paint(); },
  };
  const keys = { ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down", "+": "nearer", "=": "nearer", "-": "farther", 0: "back" };
  canvas.addEventListener("keydown", (event) => { const move = keys[event.key]; if (move) { event.preventDefault(); moves[move](); } });
  document.querySelectorAll("[data-turn]").forEach((button) => button.addEventListener("click", () => moves[button.dataset.turn]()));
  const fingers = new Map();
  canvas.addEventListener("pointerdown", (event) => { fingers.set(event.pointerId, [event.clientX, event.clientY]); canvas.setPointerCapture(event.pointerId); });
  canvas.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) { point(event); return; }
    const now = [event.clientX, event.clientY];
    if (fingers.size === 1) turnBy((now[0] - before[0]) * 0.008, (now[1] - before[1]) * 0.006);
    else {
      const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
      const apart = (p) => Math.hypot(p[0] - other[0], p[1] - other[1]) || 1;
      grow(apart(now) / apart(before));
    }
    fingers.set(event.pointerId, now);
  });
  const drop = (event) => { fingers.delete(event.pointerId); point(event); };
  canvas.addEventListener("pointerup", drop);
  canvas.addEventListener("pointercancel", drop);
  const point = (event) => {
    const box = canvas.getBoundingClientRect();
    const [x, y] = [event.clientX - box.left, event.clientY - box.top];
    let best = -1, near = 18 * 18, deep = Infinity;
    for (let n = 0; n < count; n += 1) {
      const d = (seen[n][0] - x) ** 2 + (seen[n][1] - y) ** 2;
      if (d < near && (d < near * 0.5 || seen[n][2] < deep)) { best = n; near = Math.max(d, 1); deep = seen[n][2]; }
    }
    if (best < 0) return;
    const arc = data.arc[best];
    const off = data.off[best];
    said.textContent = `Station ${data.station[best].toFixed(2)} in, ${Math.abs(arc).toFixed(3)} in ${data.edge ? "from the free edge" : `along the ${arc < 0 ? "upper" : "lower"} side`}`
      + (data.limit > 0 ? (off === null ? "; not measured" : `; ${off >= 0 ? "outside" : "inside"} by ${Math.abs(off).toFixed(3)} in`) : "") + ".";
  };
  new ResizeObserver(paint).observe(canvas.parentElement);
  for (const look of ["(prefers-color-scheme: dark)", "print"]) window.matchMedia(look).addEventListener("change", paint);
  paint();
})();
