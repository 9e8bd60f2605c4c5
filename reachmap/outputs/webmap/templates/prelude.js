// Runs before the map is made. A copy that was saved while the page was open holds what the map
// built then: it is cleared, so that nothing is there twice.
(function () {
  const begin = L.Map.prototype._initContainer;
  L.Map.include({
    _initContainer(id) {
      const box = L.DomUtil.get(id);
      if (box) {
        box.textContent = "";
        box.className = "folium-map";
        box.removeAttribute("style");
      }
      return begin.call(this, id);
    },
  });
})();
