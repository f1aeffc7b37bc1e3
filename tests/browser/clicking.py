"""What the browser tests of clicks put into a page: clicks written down, its sound led back to its microphone."""

from __future__ import annotations

WRITES_CLICKS_DOWN = """
window.clicks = []; // those that are heard, by the sound's own clock
const { start, stop } = AudioScheduledSourceNode.prototype;
AudioScheduledSourceNode.prototype.start = function (at) {
  clicks.push({ source: this, at, handedOverAt: this.context.currentTime });
  return start.call(this, at);
};
AudioScheduledSourceNode.prototype.stop = function (at = 0) {
  if (!at) clicks = clicks.filter((one) => one.source !== this || one.at < this.context.currentTime);
  return stop.call(this, at);
};
"""
HEARS_ITSELF = """
const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
const join = AudioNode.prototype.connect;
let room = null;
navigator.mediaDevices.getUserMedia = async (wanted) => {
  const context = new AudioContext();
  const out = context.createMediaStreamDestination();
  join.call(context.createMediaStreamSource(await ask(wanted)), out);
  room = { context, out };
  return out.stream;
};
const ways = new Map(); // one for each context, from its first wire on: a new one loses its first moments
function wayBack(from) {
  const tap = from.createMediaStreamDestination();
  const air = new GainNode(room.context, { gain: GAIN });
  const late = new DelayNode(room.context, { delayTime: 0.12 });
  join.call(room.context.createMediaStreamSource(tap.stream), air);
  join.call(air, late);
  join.call(late, room.out);
  return tap;
}
AudioNode.prototype.connect = function (to, ...rest) {
  if (room && this.context !== room.context && !ways.has(this.context)) ways.set(this.context, wayBack(this.context));
  if (to instanceof AudioDestinationNode && ways.has(this.context)) join.call(this, ways.get(this.context));
  return join.call(this, to, ...rest);
};
"""
OTHER_HEADPHONES = """async () => {
  const list = navigator.mediaDevices.enumerateDevices.bind(navigator.mediaDevices);
  const other = { kind: 'audiooutput', deviceId: 'other', label: 'Other headphones' };
  navigator.mediaDevices.enumerateDevices = async () => [...(await list()), other];
  navigator.mediaDevices.dispatchEvent(new Event('devicechange'));
}"""
WANTED_AND_CHECKED = """async () => {
  const stream = await navigator.mediaDevices.getUserMedia({ audio: true });
  const devices = await navigator.mediaDevices.enumerateDevices();
  stream.getTracks().forEach((track) => track.stop());
  const plugged = devices.map(({ kind, deviceId, label }) => `${kind} ${deviceId} ${label}`).sort().join('\\n');
  localStorage.setItem('footing-click', JSON.stringify({ on: new Date().toDateString(), plugged }));
}"""
BUSY_FROM_THE_FIRST_CLICK_ON = """() => {
  const until = performance.now() + 900;
  while (clicks.length && performance.now() < until);
  return clicks.length;
}"""
ROOMS = """async ([rooms, peak, knocks]) => {
  const { overRoomDb } = await import('/static/assignments/click.js');
  const rate = 48000;
  const noise = () => Math.sqrt(-2 * Math.log(1 - Math.random())) * Math.cos(2 * Math.PI * Math.random());
  return Array.from({ length: rooms }, (_, room) => {
    const heard = Float32Array.from({ length: 2.28 * rate }, () => 10 ** (-75 / 20) * noise());
    for (let from = -0.01 * room * rate; peak && from < heard.length; from += rate / 4)
      for (let i = 0; i < 0.03 * rate; i += 1)
        heard[Math.round(from) + i] += peak * 0.005 ** (i / 0.03 / rate) * Math.sin((3200 * Math.PI * i) / rate + 1);
    for (let knock = 0; knock < knocks; knock += 1) {
      const from = Math.floor(Math.random() * heard.length);
      for (let i = 0; i < 0.05 * rate; i += 1) heard[from + i] += 0.1 * noise() * Math.exp(-i / (0.01 * rate));
    }
    return overRoomDb(heard, rate);
  });
}"""
