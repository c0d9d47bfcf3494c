// Comforts only: every page works without it.
"use strict";

// The time since netting counts on. The server says how long it was, so the phone's own clock does not matter.
function timer(box) {
  const start = performance.now() - 1000 * Number(box.dataset.seconds);
  const word = box.querySelector("[data-word]");
  const clock = box.querySelector("[data-clock]");
  const limits = [
    ["stop", "Stop: put the animals back now.", "alarm"],
    ["warn", "Warning: colour may have paled. Hurry.", "warn"],
    ["aim", "Longer than the house aims at: photograph now.", "warn"],
  ];
  const tick = () => {
    const seconds = Math.floor((performance.now() - start) / 1000);
    clock.textContent = Math.floor(seconds / 60) + ":" + String(seconds % 60).padStart(2, "0");
    const over = limits.find(([name]) => seconds >= 60 * Number(box.dataset[name]));
    if (over && word.textContent !== over[1]) {
      word.textContent = over[1];
      box.classList.remove("warn", "alarm");
      box.classList.add(over[2]);
    }
  };
  tick();
  setInterval(tick, 1000);
}

// A chosen photo is sent at once, with its progress; a connection that breaks off is said, and the photo stays chosen.
function sender(form) {
  const say = (text) => { form.querySelector("#sending").textContent = text; };
  const bar = form.querySelector("#sent");
  let running = false;
  const send = () => {
    if (running) return;
    const photos = [...form.querySelectorAll("input[type=file]")].flatMap((field) => [...field.files]);
    if (!photos.length) {
      say("Take or choose a photo first.");
      return;
    }
    if (photos.some((photo) => photo.size > Number(form.dataset.most))) {
      say("A photo is too large; nothing was sent. Choose it as the phone makes it, JPEG or HEIC.");
      return;
    }
    running = true;
    const request = new XMLHttpRequest();
    request.open("POST", form.action);
    request.responseType = "document";
    request.timeout = 180000;
    bar.hidden = false;
    say("Sending ...");
    request.upload.onprogress = (event) => { if (event.lengthComputable) bar.value = (100 * event.loaded) / event.total; };
    request.upload.onload = () => say("Sent. Grading ...");
    const broken = () => {
      running = false;
      bar.hidden = true;
      say("The connection broke off; it may not have been filed. The photo is still chosen: tap Send. It is never filed twice.");
    };
    request.onerror = broken;
    request.ontimeout = broken;
    request.onabort = broken;
    request.onload = () => {
      if (request.status < 400) { location.assign(request.responseURL); return; }
      running = false;
      bar.hidden = true;
      const answer = request.response && request.response.querySelector("[role=alert]");
      say(answer ? answer.textContent : "Not filed. Tap Send to try again.");
    };
    request.send(new FormData(form));
  };
  form.addEventListener("submit", (event) => { event.preventDefault(); send(); });
  for (const field of form.querySelectorAll("input[type=file]")) field.addEventListener("change", send);
}

// The pairing link brings its key behind the #, which never leaves the phone on its own.
function pairing(form) {
  if (location.hash.length < 2) return;
  form.querySelector("#code").value = location.hash.slice(1);
  history.replaceState(null, "", location.pathname);
}

function speaker(button) {
  if (!("speechSynthesis" in window)) return;
  button.hidden = false;
  button.addEventListener("click", () => {
    const text = document.getElementById(button.dataset.speak);
    if (text) speechSynthesis.speak(new SpeechSynthesisUtterance(text.textContent));
  });
}

document.querySelectorAll("[data-seconds]").forEach(timer);
document.querySelectorAll("[data-send]").forEach(sender);
document.querySelectorAll("[data-pair]").forEach(pairing);
document.querySelectorAll("[data-speak]").forEach(speaker);
