/** The sentences that are there before anybody has signed in, and those of the head of every page. */
import { CODE_DIGITS, PASSWORD_CHARACTERS_MIN } from '@ambipede/shared';

export const ACCESS_TEXTS = {
  signIn: {
    title: 'Sign in',
    over: 'You are signed out. Sign in to go on where you were.',
    login: 'Login',
    password: 'Password',
    button: 'Sign in',
    missingLogin: 'Type your login.',
    missingPassword: 'Type your password.',
    show: 'Show the password',
    help: 'No account, or the password is lost? A keeper of this server gives you one.',
    asking: 'Asking who is signed in …',
  },

  code: {
    label: 'One-time code',
    note: `The ${CODE_DIGITS} digits that the app on your phone shows for this server now.`,
    wrong: `Type the ${CODE_DIGITS} digits that the app shows.`,
  },

  password: {
    now: 'Password that you have now',
    given: 'Password that was given to you',
    next: 'New password',
    again: 'New password again',
    rule: `At least ${PASSWORD_CHARACTERS_MIN} characters. A few words that only you put together are good. No rule about kinds of characters.`,
    tooShort: (missing: number) => `Too short: ${missing} more ${missing === 1 ? 'character' : 'characters'}.`,
    longEnough: 'Long enough. Longer is better.',
    tooLong: (most: number) => `Too long: ${most} characters at most.`,
    notSame: 'The two are not the same.',
    change: 'Change the password',
    changed: 'The password is changed. Every other device is signed out.',
    firstTitle: 'Choose your password',
    firstLead:
      'Your password was given to you by somebody else. Choose one that only you know: nothing else is open before.',
  },

  access: {
    demo: 'Demonstration without accounts',
    accounts: 'Accounts',
    account: (name: string) => `Your account: ${name}`,
    consent: 'Consent',
    consentOf: (name: string) => `Consent: ${name}`,
    signOut: 'Sign out',
    notAllowedTitle: 'You may not see this',
    liveEnded: 'The live view has ended. Nothing of it is shown any more.',
    toConsent: 'Open the page Consent',
    noAthlete: 'This athlete is not on your list. You may have been taken off, or the address is wrong.',
    askWhy: 'Asking the server why …',
    pageNotLoaded: 'This page could not be loaded. Check the connection, then try again.',
  },

  pairing: {
    make: 'Pairing code',
    nameOf: (deviceId: string) => `Pairing code: ${deviceId}`,
    title: (deviceId: string) => `Pairing code of ${deviceId}`,
    lead: 'Type this code at the gateway of this sensor. It is good once, and it is shown only now. The token that the sensor has stops when the code is used.',
    spoken: (characters: string) => `The code is ${characters}`,
    left: (minutes: number, seconds: string) => `Good for ${minutes} min ${seconds} s more.`,
    over: 'This code is no longer good. Make a new one.',
    hide: 'It is typed, hide it',
  },
} as const;
