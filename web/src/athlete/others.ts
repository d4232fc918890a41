/** The other athletes that a coach has under way, each with its state in words. */
import { PLACES, type AthleteSummary, type SessionView } from '@ambipede/shared';
import { api } from '../api.ts';
import { readyWords } from '../session-check/both-sensors.ts';
import { TEXTS } from '../texts.ts';

/** More than fit into one row at a glance are found on the athletes page. */
export const OTHERS_SHOWN_MAX = 8;

export interface Other {
  id: string;
  name: string;
  words: string;
  /** A trial of theirs is running. */
  running: boolean;
}

export interface Others {
  list: Other[];
  /** How many more there are. */
  more: number;
}

/** An open session, or a sensor at any place: somebody to switch to. Open sessions first. */
export function underWay(athletes: readonly AthleteSummary[], athleteId: string): AthleteSummary[] {
  return athletes
    .filter(({ id, openSessionId, sensors }) => id !== athleteId && (openSessionId !== null || sensors.length > 0))
    .sort((a, b) => Number(b.openSessionId !== null) - Number(a.openSessionId !== null));
}

/** `session` undefined: it could not be asked for, so whether a trial runs is not known. */
export function otherOf(athlete: AthleteSummary, session: SessionView | null | undefined): Other {
  const { id, name, sensors } = athlete;
  const say = (words: string, running = false): Other => ({ id, name, words, running });
  if (session === undefined) return say(TEXTS.others.unknown);
  const trial = session?.trials.find(({ state }) => state === 'running');
  if (trial !== undefined) return say(TEXTS.others.trial(TEXTS.task[trial.task]), true);
  if (session?.leadInStep) return say(TEXTS.others[session.leadInStep]);
  const { ready } = readyWords(sensors, false);
  const words = ready === 'ready' || ready === 'warn' ? TEXTS.others.ready : TEXTS.others.notReady;
  return say(session === null && sensors.length === PLACES.length ? `${words}, ${TEXTS.others.noSession}` : words);
}

export async function loadOthers(athleteId: string): Promise<Others> {
  const all = underWay(await api.athletes(), athleteId);
  const shown = all.slice(0, OTHERS_SHOWN_MAX);
  const list = await Promise.all(
    shown.map(async (athlete) => {
      const open = athlete.openSessionId;
      return otherOf(athlete, open === null ? null : await api.session(open).catch(() => undefined));
    }),
  );
  return { list, more: all.length - shown.length };
}
