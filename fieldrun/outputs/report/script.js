"use strict";
(() => {
  const dataOf = (anchor) => JSON.parse(document.getElementById(anchor + "-data").textContent);
  const acrossOf = (frame, value) => frame.left + frame.width * (value - frame.low) / (frame.high - frame.low);
  const downOf = (frame, value) => frame.top + frame.height * (frame.ceiling - value) / (frame.ceiling - frame.floor);
  const place = (dot, frame, across, up) => {
    dot.setAttribute("cx", acrossOf(frame, across).toFixed(2));
    dot.setAttribute("cy", downOf(frame, up).toFixed(2));
  };
  const moveCursor = (line, frame, value) => {
    for (const end of ["x1", "x2"]) line.setAttribute(end, acrossOf(frame, value).toFixed(2));
  };
  const pointed = (drawing, frame, event) => {
    const edge = drawing.getBoundingClientRect(), box = drawing.viewBox.baseVal;
    const x = box.x + (event.clientX - edge.left) * box.width / edge.width;
    return frame.low + (x - frame.left) * (frame.high - frame.low) / frame.width;
  };
  const tell = (slider, words) => {
    document.getElementById(slider.dataset.for + "-told").textContent = words;
    slider.setAttribute("aria-valuetext", words);
  };
  const readOff = (slider, drawing, frame, pause) => {
    const follow = (event) => {
      if (event.type === "pointerdown") pause();
      else if (event.pointerType !== "mouse" || slider.dataset.playing) return;
      const at = pointed(drawing, frame, event);
      if (at < frame.low || at > frame.high) return;
      slider.value = at;
      slider.dispatchEvent(new Event("input"));
    };
    drawing.addEventListener("pointermove", follow);
    drawing.addEventListener("pointerdown", follow);
  };

  const turn = (slider) => {
    const figure = document.getElementById(slider.dataset.for), data = dataOf(slider.dataset.for);
    const rotor = figure.querySelector(".rotor"), angleText = figure.querySelector(".angle");
    const chart = figure.querySelector(".chart"), cursor = chart.querySelector(".cursor");
    const dots = [...chart.querySelectorAll(".dot")], period = 360 / data.polePairs;
    const voltAt = (wave, degrees) => {
      const at = degrees / period * wave.length, first = Math.floor(at), part = at - first;
      return wave[first % wave.length] * (1 - part) + wave[(first + 1) % wave.length] * part;
    };
    const show = () => {
      const degrees = Number(slider.value), volts = data.volts.map((wave) => voltAt(wave, degrees));
      rotor.setAttribute("transform", "rotate(" + (-degrees).toFixed(3) + ")");
      angleText.textContent = degrees.toFixed(1) + "°";
      moveCursor(cursor, data.frame, degrees);
      volts.forEach((volt, phase) => place(dots[phase], data.frame, degrees, volt));
      const told = volts.map((volt, phase) => (volts.length > 1 ? "phase " + (phase + 1) + ": " : "") + volt.toFixed(2) + " V");
      const electrical = (degrees * data.polePairs).toFixed(0);
      tell(slider, "rotor " + degrees.toFixed(1) + " degrees, electrical " + electrical + " degrees; " + told.join(", "));
    };
    const button = figure.querySelector(".play");
    let from = 0, began = 0;
    const step = (now) => {
      if (!slider.dataset.playing) return;
      slider.value = (from + (now - began) / 5000 * period) % period;
      show();
      requestAnimationFrame(step);
    };
    const play = (on) => {
      if (on) slider.dataset.playing = "yes"; else delete slider.dataset.playing;
      button.setAttribute("aria-pressed", String(on));
      button.textContent = on ? "Stop" : "Turn";
      from = Number(slider.value);
      began = performance.now();
      if (on) requestAnimationFrame(step);
    };
    button.addEventListener("click", () => play(!slider.dataset.playing));
    slider.addEventListener("pointerdown", () => play(false));
    slider.addEventListener("keydown", () => play(false));
    slider.addEventListener("input", show);
    readOff(slider, chart, data.frame, () => play(false));
    show();
  };

  const wind = (slider) => {
    const figure = document.getElementById(slider.dataset.for), data = dataOf(slider.dataset.for);
    const chart = figure.querySelector(".chart"), cursors = [...chart.querySelectorAll(".cursor")];
    const [rotorDot, loadDot, speedDot] = chart.querySelectorAll(".dot"), [watts, speeds] = data.frames;
    const show = () => {
      const at = Number(slider.value), row = Math.min(Math.round(at / data.step), data.rpm.length - 1);
      const [load, rotor, rpm] = [data.dc_w[row], data.rotor_w[row], data.rpm[row]];
      cursors.forEach((line, panel) => moveCursor(line, data.frames[panel], at));
      place(rotorDot, watts, at, rotor);
      place(loadDot, watts, at, load);
      place(speedDot, speeds, at, rpm);
      tell(slider, "wind " + at.toFixed(1) + " m/s; load " + load.toFixed(1) + " W, rotor " + rotor.toFixed(1) + " W, generator " + rpm.toFixed(0) + " rpm");
    };
    slider.addEventListener("input", show);
    readOff(slider, chart, watts, () => {});
    show();
  };

  const makers = { turn, wind };
  for (const slider of document.querySelectorAll("input[data-control]")) {
    slider.closest(".controls").hidden = false;
    makers[slider.dataset.control](slider);
  }
})();
