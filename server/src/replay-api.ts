/** The HTTP API of the server that a replay plays to. */
import { CODE_NEEDED, type ApiError } from '@ambipede/shared';

/** The recording or the server does not allow it; the message says what to do. */
export class ReplayError extends Error {
  override name = 'ReplayError';
}

/** Within the half hour after which a server forgets a sign-in that is not used: a long trial asks for nothing. */
export const STAY_SIGNED_IN_MS = 5 * 60_000;

export interface ReplayLogin {
  login: string;
  password: string;
  /** Of an account with a second factor. */
  code?: string;
}

export class ReplayApi {
  readonly #base: string;
  #cookie = '';
  #stay: NodeJS.Timeout | undefined;

  constructor(url: string) {
    this.#base = url.replace(/^ws/, 'http').replace(/\/$/, '');
    if (!/^https?:/.test(this.#base) || !URL.canParse(this.#base))
      throw new ReplayError(`--url is "${url}": give the address of the server, for instance ws://127.0.0.1:8080.`);
  }

  async signIn(given: ReplayLogin): Promise<void> {
    await this.call('POST', '/api/sign-in', given);
    this.#stay = setInterval(() => void this.call('GET', '/api/me').catch(() => undefined), STAY_SIGNED_IN_MS);
    this.#stay.unref();
  }

  async signOut(): Promise<void> {
    clearInterval(this.#stay);
    if (this.#cookie !== '') await this.call('POST', '/api/sign-out');
    this.#cookie = '';
  }

  async call<T>(method: string, path: string, body?: object): Promise<T> {
    const response = await fetch(this.#base + path, {
      method,
      headers: {
        // The server asks whoever is signed in where a request comes from.
        origin: new URL(this.#base).origin,
        ...(this.#cookie !== '' && { cookie: this.#cookie }),
        ...(body && { 'content-type': 'application/json' }),
      },
      ...(body && { body: JSON.stringify(body) }),
    }).catch((error: unknown) => {
      const cause = error instanceof Error && error.cause instanceof Error ? error.cause.message : String(error);
      throw new ReplayError(
        `No server at ${this.#base} (${cause}). Start one with npm start or npm run demo, or give --url.`,
      );
    });
    const [set] = response.headers.getSetCookie();
    if (set !== undefined) this.#cookie = set.split(';')[0] ?? '';
    const text = await response.text();
    if (response.status === 401 && errorIn(text)?.code === CODE_NEEDED)
      throw new ReplayError('The account has a second factor. Give --code with the code that the app shows now.');
    if (response.status === 401 && this.#cookie === '' && path !== '/api/sign-in')
      throw new ReplayError('The server asks who you are. Give --login NAME; the password is asked for.');
    if (!response.ok) throw new ReplayError(`${method} ${path} was refused (${response.status}): ${messageIn(text)}`);
    return JSON.parse(text) as T;
  }
}

function messageIn(text: string): string {
  return errorIn(text)?.message ?? text;
}

function errorIn(text: string): Partial<ApiError['error']> | undefined {
  try {
    return (JSON.parse(text) as Partial<ApiError>).error;
  } catch {
    return undefined;
  }
}
