/** Work on the same thing goes one after the other; work on different things does not wait for one another. */
export class TurnsOfEach {
  readonly #last = new Map<string, Promise<unknown>>();

  /** @param ids what the work touches: it begins when all earlier work on any of them is done */
  take<T>(ids: readonly string[], work: () => Promise<T>): Promise<T> {
    const before = ids.flatMap((id) => this.#last.get(id) ?? []);
    const turn = Promise.all(before).then(work);
    const ended = turn
      .catch(() => undefined)
      .then(() => {
        for (const id of ids) if (this.#last.get(id) === ended) this.#last.delete(id);
      });
    // All at once, so that two pieces of work never wait for each other.
    for (const id of ids) this.#last.set(id, ended);
    return turn;
  }
}
