// The page of the twist guide.
import {atRest, fromMotion, fromOrientation, pitch, turned, zeroed} from "./twist.js";

const box = (id) => document.getElementById(id);
const {ref, stage, head} = box("twist").dataset;
const me = [...crypto.getRandomValues(new Uint8Array(6))].map((b) => b.toString(16)).join("");
const stopAt = () => { const n = Number(box("stop").value); return box("stop").value.trim() && Number.isFinite(n) && n > 0 ? n : 0; };
let up = null, guide = null, trail = [], moves = false, heard = false, spoken = 0, sentAt = 0, sentDeg = -999, telling = false, loud = true, tone = null, done = false;

const turn = (id, deg) => box(id).setAttribute("transform", `rotate(${deg.toFixed(1)})`);
const marks = () => turn("stop-mark", stopAt());
const tell = (text) => { if (box("say").textContent !== text) box("say").textContent = text; };
const speak = (text) => { if (loud && "speechSynthesis" in window) { speechSynthesis.cancel(); speechSynthesis.speak(new SpeechSynthesisUtterance(text)); } };

const sounds = (deg) => {
  if (!tone) return;
  const on = loud && deg > 2 && !done;
  tone.gain.gain.setTargetAtTime(on ? 0.12 : 0, tone.context.currentTime, 0.02);
  tone.voice.frequency.setTargetAtTime(pitch(deg, stopAt() || 90), tone.context.currentTime, 0.02);
};

let feltAt = 0;
const felt = (direction, at) => {
  up = direction;
  feltAt = at;
  if (!guide) return;
  guide = turned(guide, direction, at);
  const {deg, peak} = guide, stop = stopAt();
  trail = [...trail.filter((one) => at - one.at < 1500), {at, deg}];
  box("angle").value = deg.toFixed(1);
  turn("lever", deg);
  turn("peak-mark", peak);
  if (stop && deg >= stop - 0.5 && !done) tell("Stop: you are at the mark.");
  else if (stop && !done) tell(`${Math.max(0, stop - deg).toFixed(0)}° to go.`);
  const ten = stop && deg >= stop - 0.5 ? 9999 : Math.floor(deg / 10) * 10;
  if (ten > spoken) { spoken = ten; speak(ten === 9999 ? "stop" : String(ten)); }
  const rest = atRest(trail, peak);
  if (rest !== null && (!done || Math.abs(rest - Number(box("back").value)) > 0.5)) {
    done = true;
    box("turned").value = peak.toFixed(1);
    box("back").value = rest.toFixed(1);
    tell(`Turned to ${peak.toFixed(1)}°, came back to ${rest.toFixed(1)}°: spring-back ${(peak - rest).toFixed(1)}°. Keep it below.`);
  }
  if (peak > 5 && !done) box("turned").value = peak.toFixed(1);
  sounds(deg);
  // the other end: as it moves, while it lies still once in a while, and never faster than the network takes it
  if (!telling && at - sentAt > (Math.abs(deg - sentDeg) < 0.1 ? 1500 : 120)) {
    sentAt = at; sentDeg = deg; telling = true;
    fetch("/live/" + encodeURIComponent(ref) + "/say", {method: "POST", body: new URLSearchParams({kind: "angle", stage, end: box("end").value, deg: deg.toFixed(1), peak: peak.toFixed(1), from: me})}).catch(() => {}).finally(() => { telling = false; });
  }
};

window.addEventListener("devicemotion", (event) => {
  const direction = fromMotion(event);
  if (!direction) return;
  moves = heard = true;
  felt(direction, event.timeStamp || performance.now());
});
window.addEventListener("deviceorientation", (event) => {
  if (moves || event.beta === null || event.gamma === null) return;
  heard = true;
  felt(fromOrientation(event.beta, event.gamma), event.timeStamp || performance.now());
});

// a phone that lies still may say nothing more: that it lies still is what is waited for
setInterval(() => { const now = performance.now(); if (guide && up && now - feltAt > 120) felt(up, now); }, 60);

box("zero").addEventListener("click", async () => {
  for (const kind of [window.DeviceMotionEvent, window.DeviceOrientationEvent]) {
    if (typeof kind?.requestPermission === "function") try { await kind.requestPermission(); } catch { /* asked below */ }
  }
  if (!tone && "AudioContext" in window) {
    const context = new AudioContext(), voice = context.createOscillator(), gain = context.createGain();
    gain.gain.value = 0;
    voice.connect(gain).connect(context.destination);
    voice.start();
    tone = {context, voice, gain};
  }
  if (!up) { tell(missing()); return; }
  document.querySelector(".end-view").scrollIntoView({block: "start"}); // picture, angle and stop on one screen
  guide = zeroed(up);
  trail = []; spoken = 0; done = false;
  box("turned").value = box("back").value = "";
  box("angle").value = "0.0";
  turn("lever", 0); turn("peak-mark", 0);
  tell(stopAt() ? "Zero. Turn smoothly." : "Zero. Enter a stop mark, or turn and read.");
});
const missing = () => isSecureContext
  ? "This device does not say how it is turned. Copy the stop mark onto the lever with a protractor, and enter the angles by hand below."
  : "On this connection the browser does not say how the phone is turned; it does when the laptop serves with --tls. Until then use a protractor, and enter the angles by hand below.";
setTimeout(() => { if (!heard) tell(missing()); }, 1500);
box("sound").addEventListener("click", () => { loud = !loud; box("sound").setAttribute("aria-pressed", String(loud)); box("sound").textContent = loud ? "Sound on" : "Sound off"; sounds(0); });
box("stop").addEventListener("input", marks);
marks();
if ("wakeLock" in navigator) {
  const keep = () => { if (document.visibilityState === "visible") navigator.wakeLock.request("screen").catch(() => {}); };
  document.addEventListener("visibilitychange", keep);
  keep();
}
if ("EventSource" in window && !document.documentElement.dataset.kept) {
  const stream = new EventSource("/live/" + encodeURIComponent(ref) + "?head=" + head);
  const told = (m, moving = false) => {
    if (m.kind !== "angle" || m.stage !== stage || m.from === me) return;
    if (m.end === box("end").value) { if (guide && moving) box("far").textContent = "Another phone is on the same end: set one of the two to the other end."; return; }
    const lag = guide ? ` This end is ${Math.abs(guide.deg - Number(m.deg)).toFixed(1)}° ${guide.deg >= Number(m.deg) ? "ahead" : "behind"}.` : "";
    box("far").textContent = `${m.end === "far" ? "Far end" : "Lever end"}: ${m.deg}°, most ${m.peak}°.${lag}`;
  };
  stream.addEventListener("state", (event) => JSON.parse(event.data).said.forEach((m) => told(m)));
  stream.addEventListener("said", (event) => told(JSON.parse(event.data), true));
  window.addEventListener("pagehide", () => stream.close());
}
