/** The sentences of the pages of accounts, consent and privacy. They are loaded with those pages. */
import type { ConsentPurpose, Role } from '@ambipede/shared';
import { RETENTION_MONTHS_MAX } from '@ambipede/shared';
import { plural } from './texts-sensors.ts';

const ROLE: Record<Role, string> = { keeper: 'keeper', coach: 'coach', physio: 'physio', athlete: 'athlete' };
const ROLE_FOR: Record<Role, string> = {
  keeper: 'Keeper: runs the server, gives accounts',
  coach: 'Coach: measures athletes',
  physio: 'Physio: measures, sees notes of injury and pain, writes decisions',
  athlete: 'Athlete: sees what is stored about them',
};
const PURPOSE: Record<ConsentPurpose, { title: string; what: string; without: string }> = {
  recording: {
    title: 'Recording',
    what: 'Two sensors measure how the athlete moves. The samples, the results and the history are kept, and the coaches and physios who care for the athlete see them.',
    without: 'Not in force: nobody may measure, and nobody but the athlete sees what there is.',
  },
  'health to coach': {
    title: 'Health notes to coaches',
    what: 'Coaches who care for the athlete see notes of injury and pain, and the return episodes. Physios who care for the athlete see them with the consent to recording alone.',
    without: 'Not in force: coaches do not see notes of injury and pain.',
  },
};

export const PEOPLE_TEXTS = {
  role: ROLE,
  roleFor: ROLE_FOR,
  purpose: PURPOSE,
  cancel: 'Cancel',
  keeperPages: 'Pages of the keeper',
  nameOf: (what: string, name: string) => `${what}: ${name}`,

  account: {
    title: 'Your account',
    name: 'Name',
    roles: 'Roles',
    demo: 'This is a demonstration without accounts: there is nobody to sign in or out.',
    own: 'What is stored about you',
    ownLink: 'Your consents, and everything to take out',
  },

  signIns: {
    title: 'Where you are signed in',
    lead: 'A browser that you do not know? End it, and change your password.',
    unknown: 'Unknown browser',
    times: (since: string, used: string) => `since ${since}, last used ${used}`,
    isThis: 'This one',
    end: 'End',
    endOthers: 'End all others',
  },

  secondFactor: {
    title: 'One-time codes',
    isOff:
      'Off: your password alone opens the account. With one-time codes an app on your phone shows six digits, new ones every 30 seconds, and signing in asks for them too. Whoever has learned your password is kept out.',
    isOn: 'On: signing in asks for your password and for the code that the app on your phone shows.',
    lost: 'A lost phone: a keeper turns the codes off for you.',
    setUp: 'Set up one-time codes',
    begin: 'Show the key',
    scan: 'Read this picture with an app for one-time codes on your phone.',
    picture: 'The key as a picture for the camera of the phone',
    orType: 'Or type this key into the app:',
    onThisDevice: 'Open it in an app on this device',
    turnOn: 'Turn them on',
    again: 'Begin again',
    turnOff: 'Turn them off',
    dueTitle: 'Set up one-time codes',
    dueLead:
      'Others reach this server, and a keeper’s account opens all of it. So a keeper signs in with a code as well: an app on your phone shows six digits, new ones every 30 seconds. Nothing else is open before.',
  },

  accounts: {
    title: 'Accounts',
    lead: 'Whoever uses this server signs in with an account of their own. Do not share one: the audit says who did what.',
    add: 'Add a person',
    login: 'Login',
    loginRule: 'Small letters, digits and . _ @ + -; it begins with a letter or digit.',
    loginMissing: 'Type a login.',
    name: 'Name',
    nameMissing: 'Type the name of the person.',
    roles: 'Roles',
    rolesMissing: 'Choose at least one role.',
    athlete: 'Which athlete it is',
    athleteMissing: 'Choose the athlete. Add the athlete to the roster first, if the name is not here.',
    choose: 'choose',
    make: 'Make the account',
    change: 'Change',
    save: 'Save',
    close: 'Close',
    reopen: 'Open again',
    newPassword: 'New password',
    askClose: 'Every sign-in of this account ends at once. It can be opened again.',
    askPassword: 'The password that the person has now stops at once, and every sign-in ends.',
    yesClose: 'Yes, close',
    yesPassword: 'Yes, new password',
    keep: 'Leave it as it is',
    since: (when: string) => `since ${when}`,
    closed: (when: string) => `Closed ${when}: cannot sign in`,
    passwordIsFirst: (until: string) => `First password not changed yet; it is good until ${until}`,
    secondFactor: 'signs in with one-time codes',
    noSecondFactor: 'Lost the phone',
    askSecondFactor:
      'Make sure that it is the person who asks. The password alone opens the account again, and every sign-in ends.',
    yesSecondFactor: 'Yes, without codes',
    ofAthlete: (name: string) => `athlete ${name}`,
    secretTitle: (name: string) => `First password of ${name}`,
    secretLead: (login: string) =>
      `Give it to the person whom it is for, with the login ${login}, by a way that nobody else reads. It is shown this once, and has to be changed at the first sign-in.`,
    secret: 'First password',
    secretDone: 'It is handed over, hide it',
  },

  audit: {
    title: 'Audit',
    lead: 'Who read or changed what, newest first. Reads of the same thing by the same person within ten minutes are one line. It can only be added to.',
    filter: 'About',
    all: 'everybody and everything',
    columns: { when: 'When', answer: 'Answer', who: 'Who', what: 'What', whom: 'About' },
    nobody: 'nobody signed in',
    gone: 'an account that is gone',
    erased: 'an athlete who is not in the roster',
    allowed: 'allowed',
    refused: (status: number) => `REFUSED (${status})`,
    empty: 'Nothing is written here.',
    older: 'Older',
    newest: 'Newest',
  },

  consent: {
    title: (name: string) => `Consent: ${name}`,
    lead: 'Ask first, on paper. Then write down here who agreed. For a minor a guardian agrees; who is a minor, and who may speak for one, local law says.',
    inForce: (when: string) => `In force since ${when}`,
    byAthlete: (name: string) => `Given by the athlete, ${name}`,
    byGuardian: (name: string, relation: string) => `Given by ${name}, ${relation} of the athlete`,
    recordedBy: (name: string) => `written down by ${name}`,
    before: 'Before',
    withdrawnBy: (name: string, when: string) => `taken back by ${name}, ${when}`,
    record: 'Write down the consent',
    recordOf: (purpose: string) => `Write down the consent: ${purpose}`,
    who: 'Who agreed',
    athlete: 'The athlete',
    guardian: 'A guardian',
    name: 'Name of who agreed',
    nameMissing: 'Type the name of who agreed.',
    relation: 'How they stand to the athlete',
    relationNote: 'For example: mother, father, legal guardian.',
    relationMissing: 'Type how the guardian stands to the athlete.',
    withdraw: 'Take back',
    withdrawOf: (purpose: string) => `Take back the consent: ${purpose}`,
    withdrawWhat:
      'It works at once, on open pages too. What was recorded before stays until it is erased, and is not shown to coaches and physios.',
    withdrawName: 'Name of who takes it back',
    withdrawMissing: 'Type the name of who takes the consent back.',
    withdrawYes: 'Take the consent back',
  },

  carers: {
    title: 'Who cares for the athlete',
    lead: 'Coaches and physios see the athletes whom they care for, as far as the consents go, and do not know of the others.',
    none: 'Nobody yet.',
    add: 'Add',
    choose: 'choose a person',
    person: 'Coach or physio',
    noAccounts: 'There is no other open account of a coach or physio.',
    remove: 'Remove',
    byKeeper: 'A keeper adds and removes people here.',
  },

  takeOut: {
    title: 'Take everything out',
    lead: 'One file with all that is stored about the athlete, in open formats. It holds personal data: keep it where only those see it who may.',
    link: 'Save everything (tar)',
  },

  erase: {
    title: 'Erase the athlete',
    what: 'Erased for good: the name and details, sessions, trials, raw samples, results, notes of injury and pain, return episodes with their decisions, consents, and who cares. It cannot be undone. Take everything out first, if the athlete wants it. Local law may say what has to be kept: look first.',
    remains:
      'What remains: the audit, which holds no names; backups made before, until they are deleted; files that somebody has saved.',
    open: 'Erase …',
    name: (name: string) => `To erase, type the full name: ${name}`,
    wrong: 'That is not the name. Type it as it stands above.',
    button: 'Erase for good',
    doneTitle: 'Erased',
    done: 'These are gone:',
    count: (kind: string, n: number) => `${kind}: ${n}`,
    stays: 'What remains:',
    back: 'Go to the athletes',
  },

  retention: {
    title: 'How long things are kept',
    lead: 'Sessions that ended longer ago than this are removed by themselves, with all that belongs to them. Local law may say how long at least, and how long at most.',
    now: (months: number | null) =>
      months === null ? 'Now: kept until somebody erases them.' : `Now: ${plural(months, 'month', 'months')}.`,
    oldest: (when: string | null) => (when === null ? 'No session is stored.' : `The oldest session is of ${when}.`),
    choice: 'Keep sessions',
    forever: 'Until somebody erases them',
    limited: 'For some months',
    months: 'Months',
    wrong: `Type a whole number from 1 to ${RETENTION_MONTHS_MAX}.`,
    save: 'Save',
    warn: (months: number) =>
      `Sessions older than ${plural(months, 'month', 'months')} are removed for good, the first of them soon. Save once more if that is meant.`,
    saved: 'Saved.',
  },
} as const;
