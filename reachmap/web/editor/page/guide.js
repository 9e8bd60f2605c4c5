// Where a newcomer stands: the few steps from nothing to a map. Pure.

/** The steps in order: {id, title, words, done}. */
export function steps({ marks, relief, basemap, facts, invented, faults, checked, version, relevant }) {
  const of = (layer) => marks.filter((mark) => mark.layer === layer && mark.paths.length);
  const main = of("river").some((mark) => mark.values.part !== "side");
  const sides = new Set(of("banks").map((mark) => mark.values.side));
  const placed = Boolean(marks.length || relief || (basemap && (basemap.start || basemap.picture)));
  const own = (fact) => Boolean(facts && facts[fact]) && !invented.includes(fact);
  const steep = own("slope") || own("fall") || Boolean(relief) || of("levels").length > 1;
  const told = faults.filter((fault) => fault.fact === "traced_flow").length === 0;
  return [
    { id: "place", title: "Say where it is", words: "A place to begin, a ground model, a picture or a GPS track.", done: placed },
    { id: "river", title: "Draw the river line", words: "Along its middle, going downstream.", done: main },
    { id: "left", title: "Draw the left bank", words: "Left as you look downstream, from the water's edge outwards.", done: sides.has("left") },
    { id: "right", title: "Draw the right bank", words: "The other side. One piece for each kind of cover.", done: sides.has("right") },
    { id: "traced", title: "Say the flow you traced", words: "What the river ran when its edges lay where you drew them.", done: own("traced_flow") && told },
    { id: "steep", title: "Say how steep it is", words: "Slope, or how far the water falls over your line.", done: steep },
    { id: "flows", title: "Say the flows to map", words: "A few, from low to high.", done: own("flows") },
    { id: "check", title: "Put right what is found", words: "Then build the maps.", done: checked === version && faults.length === 0 && relevant },
  ];
}
