/**
 * Changes to one trial: shown at once, sent one after the other, and kept on this device until the server has them. A change
 * that fails stays on screen and is said; nothing is sent again unless somebody asks for it or changes something more.
 */
import type { TrialChange, TrialSummary } from '@ambipede/shared';
import { api } from '../api.ts';
import { dropDraft, keepDraft, readDraft } from './draft.ts';

type Editable = Required<TrialChange>;

/** Typing pauses this long before the note is sent. */
export const NOTE_PAUSE_MS = 1000;

export class TrialEdits {
  readonly trialId: string;
  /** As the server has it. */
  #saved = $state.raw<Editable>({ tags: [], note: '', discarded: false });
  #sending = $state.raw<TrialChange | null>(null);
  #unsent = $state.raw<TrialChange>({});
  /** Why the last attempt failed. */
  problem = $state<string | null>(null);
  /** Changes of an earlier visit were found: they wait for a word, since the trial may have been changed elsewhere since. */
  found = $state(false);
  /** The server has taken at least one change. */
  savedOnce = $state(false);

  readonly #onsaved: (trial: TrialSummary) => void;
  #pause: ReturnType<typeof setTimeout> | undefined;

  constructor(trial: Editable & { id: string }, onsaved: (trial: TrialSummary) => void) {
    this.trialId = trial.id;
    this.#saved = editableOf(trial);
    this.#onsaved = onsaved;
    const draft = readDraft(trial.id);
    if (draft === null) return;
    this.#unsent = draft;
    this.found = true;
  }

  /** What is on screen: the newest word on each part. */
  get shown(): Editable {
    return { ...this.#saved, ...this.#sending, ...this.#unsent };
  }

  get state(): 'clean' | 'waiting' | 'saving' {
    if (this.#sending !== null) return 'saving';
    return Object.keys(this.#unsent).length > 0 ? 'waiting' : 'clean';
  }

  /** Takes a change; it goes out at once, or with the others when the one under way is done. */
  change(change: TrialChange): void {
    this.#put(change);
    this.send();
  }

  /** The same for what is still being typed. */
  type(note: string): void {
    this.#put({ note });
    clearTimeout(this.#pause);
    this.#pause = setTimeout(() => this.send(), NOTE_PAUSE_MS);
  }

  send(): void {
    clearTimeout(this.#pause);
    this.found = false;
    if (this.state === 'waiting') void this.#send();
  }

  /** Back to what the server has. */
  drop(): void {
    clearTimeout(this.#pause);
    this.#unsent = {};
    this.problem = null;
    this.found = false;
    this.#keep();
  }

  #put(change: TrialChange): void {
    this.#unsent = { ...this.#unsent, ...change };
    this.#keep();
  }

  async #send(): Promise<void> {
    const change = this.#unsent;
    this.#sending = change;
    this.#unsent = {};
    try {
      const trial = await api.changeTrial(this.trialId, change);
      this.#saved = editableOf(trial);
      this.problem = null;
      this.savedOnce = true;
      this.#onsaved(trial);
    } catch (cause) {
      // What was changed meanwhile is newer than what failed.
      this.#unsent = { ...change, ...this.#unsent };
      this.problem = cause instanceof Error ? cause.message : String(cause);
    }
    this.#sending = null;
    this.#keep();
    if (this.problem === null) this.send();
  }

  #keep(): void {
    const open = { ...this.#sending, ...this.#unsent };
    if (Object.keys(open).length > 0) keepDraft(this.trialId, open);
    else dropDraft(this.trialId);
  }
}

function editableOf({ tags, note, discarded }: Editable): Editable {
  return { tags, note, discarded };
}
