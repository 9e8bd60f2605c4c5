// A page on a host of the angler's own: the browser keeps all of it, and a newer map is offered when
// there is net. The old one stays until it is asked for, or until every page of it is shut.
(function () {
  "use strict";
  const line = document.getElementById("site-kept");
  const say = (words) => (line.textContent = words);
  if (!navigator.serviceWorker) {
    say(line.dataset.failed);
    return;
  }
  const kept = () => say(line.dataset.kept.replace("{day}", line.dataset.day));
  let asked = false; // a newer map was asked for: the page loads again once it is in force

  function offer(worker) {
    say(line.dataset.newer + " ");
    const button = document.createElement("button");
    button.type = "button";
    button.className = "plate-button";
    button.textContent = line.dataset.load;
    button.addEventListener("click", () => {
      asked = true;
      worker.postMessage("load");
    });
    line.append(button);
  }

  function follow(worker) {
    const look = () => {
      if (worker.state === "installed" && navigator.serviceWorker.controller) offer(worker);
      if (worker.state === "activated") kept();
      if (worker.state === "redundant" && !navigator.serviceWorker.controller) say(line.dataset.failed);
    };
    worker.addEventListener("statechange", look);
    look();
  }

  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (asked) window.location.reload();
  });
  navigator.serviceWorker.register("sw.js", { updateViaCache: "none" }).then(
    (registration) => {
      if (registration.active) kept();
      for (const worker of [registration.installing, registration.waiting]) if (worker) follow(worker);
      registration.addEventListener("updatefound", () => follow(registration.installing));
      const look = () => {
        if (!document.hidden && navigator.onLine) registration.update().catch(() => null);
      };
      document.addEventListener("visibilitychange", look);
      window.addEventListener("online", look);
    },
    () => (navigator.serviceWorker.controller ? kept() : say(line.dataset.failed)),
  );
})();
