"""A player for the frames of a morning: play, pause, drag, step. It runs in the visitor's browser and asks nobody.

Nothing moves by itself. What the job says reaches the page as text only, never as markup. The place in the day is kept
when the page is drawn again, and when other frames come, such as the same morning in other units.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from typing import Any

import streamlit as st

from trackersim.report.animation.morning_parts import DPI, HEIGHT_IN, WIDTH_IN
from trackersim.report.animation.moving import FRAME_MS, Frame

_WIDTH, _HEIGHT = round(DPI * WIDTH_IN), round(DPI * HEIGHT_IN)

_HTML = f"""
<div class="player" role="group" aria-label="The morning, moving">
  <img class="picture" width="{_WIDTH}" height="{_HEIGHT}" alt="">
  <div class="buttons">
    <button type="button" class="back">Step back</button>
    <button type="button" class="play">Play</button>
    <button type="button" class="forward">Step on</button>
  </div>
  <div class="time">
    <label for="minute">Time of day</label> <span class="clock"></span>
    <input id="minute" class="minute" type="range" min="0" max="0" step="1" value="0">
  </div>
  <p class="sentence" aria-live="polite"></p>
</div>
"""

# No taller than the window with all its buttons, so that what is pressed is seen to move.
_CSS = f"""
.player {{
  max-width: min({_WIDTH}px, max(18rem, calc((100vh - 13rem) * {_WIDTH / _HEIGHT:.3f})));
  color: var(--st-text-color); font-family: var(--st-font);
}}
.picture {{ display: block; width: 100%; height: auto; background: #ffffff; }}
.buttons {{ display: flex; gap: 0.5rem; margin-top: 0.5rem; }}
.buttons button {{
  flex: 1 1 0; min-height: 44px; padding: 0 0.5rem; font: inherit; cursor: pointer;
  color: var(--st-text-color); background: var(--st-background-color);
  border: 1px solid currentColor; border-radius: var(--st-button-radius, 0.5rem);
}}
.buttons .play {{ flex-grow: 2; font-weight: 600; color: #ffffff; background: #1d5c7a; border-color: #1d5c7a; }}
.buttons button:disabled {{ opacity: 0.55; cursor: default; }}
.buttons button:focus-visible, .minute:focus-visible {{ outline: 3px solid var(--st-text-color); outline-offset: 2px; }}
.time {{ margin-top: 0.5rem; }}
.clock {{ font-weight: 600; font-variant-numeric: tabular-nums; }}
.minute {{ display: block; width: 100%; height: 44px; margin: 0; accent-color: #1d5c7a; cursor: pointer; }}
.sentence {{ margin: 0.25rem 0 0; min-height: 6em; font-size: 0.9rem; line-height: 1.5; overflow-wrap: anywhere; }}
@media (max-width: 480px) {{ .sentence {{ min-height: 10.5em; }} }}
@media print {{ .buttons, .minute {{ display: none; }} }}
"""

# Called again whenever the page hands over data: the same frames change nothing, others keep the time of day.
_JS = """
const players = new WeakMap();
const seen = new Map();

function make(root) {
  const part = (name) => root.querySelector("." + name);
  const image = part("picture"), clock = part("clock"), range = part("minute"), sentence = part("sentence");
  const play = part("play"), back = part("back"), forward = part("forward");
  let data = null, at = 0, timer = null;

  function show(place) {
    at = Math.min(Math.max(place, 0), data.frames.length - 1);
    const frame = data.frames[at];
    image.src = "data:image/png;base64," + frame.png;
    image.alt = frame.alt;
    clock.textContent = frame.clock;
    sentence.textContent = frame.alt;
    range.value = String(at);
    range.setAttribute("aria-valuetext", frame.clock);
    back.disabled = at === 0;
    forward.disabled = at === data.frames.length - 1;
    // Who has seen the end begins other frames at their beginning.
    if (at === data.frames.length - 1) seen.delete(data.name);
    else seen.set(data.name, frame.minute);
  }
  function pause() {
    clearInterval(timer);
    timer = null;
    play.textContent = "Play";
    sentence.setAttribute("aria-live", "polite");
  }
  function start() {
    sentence.setAttribute("aria-live", "off");
    play.textContent = "Pause";
    if (at === data.frames.length - 1) show(0);
    timer = setInterval(() => {
      show(at + 1);
      if (at === data.frames.length - 1) pause();
    }, data.frame_ms);
  }
  function step(by) {
    pause();
    const focused = by < 0 ? back : forward;
    show(at + by);
    if (focused.disabled) play.focus();
  }
  play.addEventListener("click", () => (timer === null ? start() : pause()));
  back.addEventListener("click", () => step(-1));
  forward.addEventListener("click", () => step(1));
  range.addEventListener("input", () => { pause(); show(Number(range.value)); });

  function take(given) {
    if (data !== null && data.frames_id === given.frames_id) return;
    pause();
    data = given;
    range.max = String(data.frames.length - 1);
    const minute = seen.get(data.name) ?? data.frames[0].minute;
    const gaps = data.frames.map((frame) => Math.abs(frame.minute - minute));
    show(gaps.indexOf(Math.min(...gaps)));
  }
  return { take, pause };
}

export default function ({ data, parentElement }) {
  const root = parentElement.querySelector(".player");
  if (!players.has(root)) players.set(root, make(root));
  players.get(root).take(data);
  return () => players.get(root).pause();
}
"""

_mounted = st.components.v2.component("trackersim_player", html=_HTML, css=_CSS, js=_JS)


def player(frames: Sequence[Frame], *, key: str) -> None:
    """Put the frames on the page, at the first of them and at rest."""
    _mounted(key=key, data=player_data(frames, name=key))


def player_data(frames: Sequence[Frame], *, name: str) -> dict[str, Any]:
    """What the browser is given: for each frame the minute, its PNG in base64, the clock and the sentence.

    `frames_id` differs wherever a frame does; `name` is whose place in the day is remembered.
    """
    told = [
        {
            "minute": frame.minute,
            "png": base64.b64encode(frame.png).decode("ascii"),
            "clock": frame.clock,
            "alt": frame.alt,
        }
        for frame in frames
    ]
    content = hashlib.sha256()
    for frame in frames:
        content.update(repr(frame).encode())
    return {"name": name, "frames_id": content.hexdigest(), "frame_ms": FRAME_MS, "frames": told}
