/** People with accounts on a server that asks for them, each with a browser's cookie. */
import type { Account, AccountWithPassword, AthleteSummary, ConsentPurpose, Me, Role } from '../../shared/src/index.ts';
import { hashOfPassword } from '../../server/src/access/passwords.ts';
import { addAccount } from '../../server/src/store/accounts.ts';
import type { Database } from '../../server/src/store/database.ts';

export const PASSWORD = 'lanes, tartan, six o’clock';
/** Hashing costs time on purpose: once is enough. */
const passwordHash = hashOfPassword(PASSWORD);

export interface Answer<T> {
  status: number;
  body: T;
  headers: Headers;
  text: string;
}

/** Sends what a browser on a page of the server sends; keeps the cookie that comes back. */
export class Person {
  cookie = '';
  readonly #url: string;

  constructor(url: string) {
    this.#url = url;
  }

  async ask<T>(method: string, path: string, body?: unknown, headers: Record<string, string> = {}): Promise<Answer<T>> {
    const response = await fetch(this.#url + path, {
      method,
      headers: {
        ...(method !== 'GET' && { origin: this.#url }),
        ...(this.cookie !== '' && { cookie: this.cookie }),
        ...(body !== undefined && { 'content-type': 'application/json' }),
        ...headers,
      },
      ...(body !== undefined && { body: typeof body === 'string' ? body : JSON.stringify(body) }),
    });
    const set = response.headers.getSetCookie().find((each) => each.startsWith('ambipede='));
    if (set !== undefined) this.cookie = set.split(';')[0]!;
    const text = await response.text();
    const isJson = response.headers.get('content-type')?.includes('json') === true;
    return {
      status: response.status,
      body: (isJson && text !== '' ? JSON.parse(text) : null) as T,
      headers: response.headers,
      text,
    };
  }

  /** As `ask`, for what has to succeed. */
  async call<T>(method: string, path: string, body?: unknown): Promise<T> {
    const answer = await this.ask<T>(method, path, body);
    if (answer.status >= 300) throw new Error(`${method} ${path} answered ${answer.status}: ${answer.text}`);
    return answer.body;
  }

  signIn(login: string, password = PASSWORD): Promise<Answer<Me>> {
    return this.ask<Me>('POST', '/api/sign-in', { login, password });
  }
}

let made = 0;

/** An account with a password of its own choice, signed in. */
export async function newPerson(
  { database, url }: { database: Database; url: string },
  roles: Role[],
  athleteId: string | null = null,
): Promise<Person & { account: Account }> {
  made += 1;
  const login = `${roles.join('-')}-${made}`;
  const account = await addAccount(database.db, {
    ...{ login, name: `Person ${made}`, roles, athleteId },
    ...{ passwordHash: await passwordHash, passwordIsFirst: false, createdUtcMs: Date.now(), closedUtcMs: null },
  });
  const person = new Person(url);
  const { status } = await person.signIn(login);
  if (status !== 200) throw new Error(`${login} could not sign in: ${status}`);
  return Object.assign(person, { account: account! });
}

/** An athlete whom the person takes in, with these consents. */
export async function newAthleteOf(
  person: Person,
  name: string,
  consents: ConsentPurpose[] = ['recording'],
): Promise<string> {
  const { id } = await person.call<AthleteSummary>('POST', '/api/athletes', { name });
  for (const purpose of consents)
    await person.call('POST', `/api/athletes/${id}/consents`, { purpose, givenByName: name, guardianOf: null });
  return id;
}

/** The password is given by the keeper and has to be changed. */
export function addByKeeper(keeper: Person, login: string, roles: Role[]): Promise<AccountWithPassword> {
  return keeper.call('POST', '/api/accounts', { login, name: login, roles, athleteId: null });
}
