// Undo and redo over whole drawings: pure. Drawings are never changed in place, so that a step
// costs no more than what it changed.
export class History {
  constructor(limit = 300) {
    this.limit = limit;
    this.clear();
  }

  clear() {
    this.before = [];
    this.after = [];
  }

  /** Remember the drawing as it was before a change. */
  add(drawing) {
    this.before.push(drawing);
    if (this.before.length > this.limit) this.before.shift();
    this.after = [];
  }

  /** Return the drawing one step back, given the present one; null where there is none. */
  back(now) {
    if (!this.before.length) return null;
    this.after.push(now);
    return this.before.pop();
  }

  /** Return the drawing one step on again. */
  on(now) {
    if (!this.after.length) return null;
    this.before.push(now);
    return this.after.pop();
  }
}
