// The angle of a lever about its level axis, from the direction of gravity in the phone. Pure functions.
// The phone may be strapped on any way round: the axis is the line that gravity turns about, found from the
// turn itself. A compass is never asked, so nothing jumps where the phone's own three angles do.

const rad = Math.PI / 180;
const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const scaled = (a, s) => [a[0] * s, a[1] * s, a[2] * s];
const less = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
export const unit = (a) => { const n = Math.hypot(...a); return n > 1e-9 ? scaled(a, 1 / n) : null; };

/** Up, in the phone's own axes, from its reported angles (degrees); the heading plays no part. */
export const fromOrientation = (beta, gamma) => [
  -Math.cos(beta * rad) * Math.sin(gamma * rad), Math.sin(beta * rad), Math.cos(beta * rad) * Math.cos(gamma * rad),
];

/** Up from a motion event: what the phone feels less its own shaking, where it tells that; null when it tells nothing. */
export const fromMotion = (event) => {
  const g = event.accelerationIncludingGravity, a = event.acceleration;
  if (!g || g.x === null || g.y === null || g.z === null) return null;
  const shake = a && a.x !== null && a.y !== null && a.z !== null ? [a.x, a.y, a.z] : [0, 0, 0];
  const up = less([g.x, g.y, g.z], shake);
  const n = Math.hypot(...up);
  return n > 4 && n < 16 ? unit(up) : unit([g.x, g.y, g.z]);
};

const WINDOW_MS = 80, ALIKE_DEG = 1.5, FIND_AXIS_DEG = 6, STEP_DEG = 1;

/** A guide zeroed at this direction. */
export const zeroed = (up) => ({zero: unit(up), axis: null, spread: [0, 0, 0, 0, 0, 0], last: unit(up), recent: [], deg: 0, peak: 0, noisy: []});

/** The guide after one more direction at a time in milliseconds: ``deg`` is shown, ``peak`` the most so far. */
export const turned = (guide, up, at) => {
  const direction = unit(up);
  if (!direction) return guide;
  const recent = [...guide.recent, {at, direction}].filter((one) => at - one.at < WINDOW_MS);
  // only what lies close to the newest is averaged: it quietens the noise, and nothing lags in a quick turn
  const alike = recent.filter((one) => Math.hypot(...less(one.direction, direction)) < ALIKE_DEG * rad);
  const mean = unit(alike.reduce((sum, one) => [sum[0] + one.direction[0], sum[1] + one.direction[1], sum[2] + one.direction[2]], [0, 0, 0])) || direction;
  let {axis, spread, last} = guide;
  const apart = Math.atan2(Math.hypot(...cross(last, mean)), dot(last, mean)) / rad;
  if (apart >= STEP_DEG) {
    const [x, y, z] = mean;
    spread = [spread[0] + x * x, spread[1] + x * y, spread[2] + x * z, spread[3] + y * y, spread[4] + y * z, spread[5] + z * z];
    last = mean;
  }
  const fromZero = Math.atan2(Math.hypot(...cross(guide.zero, mean)), dot(guide.zero, mean)) / rad;
  if (!axis && fromZero >= FIND_AXIS_DEG) axis = unit(cross(guide.zero, mean));
  else if (axis && apart >= STEP_DEG && Math.abs(guide.deg) > 20) axis = normal(spread, guide.zero, axis);
  let deg = fromZero;
  if (axis) {
    const flat = (v) => less(v, scaled(axis, dot(v, axis)));
    const a = flat(guide.zero), b = flat(mean);
    const raw = Math.atan2(dot(axis, cross(a, b)), dot(a, b)) / rad;
    deg = raw + 360 * Math.round((guide.deg - raw) / 360);
  }
  return {...guide, axis, spread, last, recent, deg, peak: Math.max(guide.peak, axis ? deg : 0)};
};

/** The line that all directions are square to: the least direction of their spread, found by repeated multiplying. */
const normal = (s, zero, axis) => {
  const [zx, zy, zz] = zero;
  const a = s[0] + zx * zx, b = s[1] + zx * zy, c = s[2] + zx * zz, d = s[3] + zy * zy, e = s[4] + zy * zz, f = s[5] + zz * zz;
  const adjoint = [[d * f - e * e, c * e - b * f, b * e - c * d], [c * e - b * f, a * f - c * c, b * c - a * e], [b * e - c * d, b * c - a * e, a * d - b * b]];
  let v = axis;
  for (let n = 0; n < 6; n += 1) v = unit([dot(adjoint[0], v), dot(adjoint[1], v), dot(adjoint[2], v)]) || v;
  return dot(v, axis) < 0 ? scaled(v, -1) : v;
};

/** Where a lever that was turned and let go has come to rest, or null: back by 1° or more and still for .7 s. */
export const atRest = (trail, peak) => {
  const now = trail.at(-1);
  if (!now || peak < 5 || peak - now.deg < 1) return null;
  const since = trail.filter((one) => now.at - one.at <= 700);
  if (now.at - trail[0].at < 700 || since.length < 3) return null;
  const all = since.map((one) => one.deg);
  return Math.max(...all) - Math.min(...all) < 1.5 ? all.reduce((x, y) => x + y, 0) / all.length : null;
};

/** Pitch of the tone in hertz: rises an octave up to the stop mark and stays there. */
export const pitch = (deg, stop) => 330 * 2 ** Math.min(1, Math.max(0, stop > 0 ? deg / stop : 0));
