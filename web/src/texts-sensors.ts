/** The sentences of the sensors page. */

export function plural(n: number, one: string, many: string): string {
  return `${n} ${n === 1 ? one : many}`;
}

export const SENSOR_TEXTS = {
  sensors: {
    title: 'Sensors',
    lead: 'An athlete wears two: one at the back of the pelvis, one on the sternum. Say whom each sensor sits on, and where.',
    emptyTitle: 'No sensor is enrolled yet',
    empty: 'Enrol the first one below. The server takes nothing from a sensor that is not enrolled.',
    athlete: 'Athlete',
    place: 'Place',
    nobody: 'nobody',
    choosePlace: 'choose',
    save: 'Save',
    lastSeen: (when: string) => `last heard ${when}`,
    neverSeen: 'never heard from',
  },

  enrolment: {
    title: 'Enrol a sensor',
    why: 'Enrolling makes a token for the sensor. The server takes samples from a sensor only if it sends its token.',
    deviceId: 'Name that the sensor sends',
    enrol: 'Enrol',
    already: (deviceId: string) => `${deviceId} is enrolled. If its token is lost, make a new one in its row above.`,
    enrolled: 'enrolled',
    notEnrolled: 'not enrolled: the server takes nothing from it',
    renew: 'New token',
    revoke: 'Revoke',
    askRenew: 'The token that it has now stops at once, and it is cut off until it has the new one.',
    askRevoke: 'It is cut off at once. Its samples so far are kept.',
    yesRenew: 'Yes, new token',
    yesRevoke: 'Yes, revoke',
    keep: 'Leave it as it is',
    nameOf: (what: string, deviceId: string) => `${what}: ${deviceId}`,
    tokenTitle: (deviceId: string) => `Token of ${deviceId}`,
    tokenLead: (characters: number) =>
      `Put these ${characters} characters into the sensor as its token. They are shown this once: the server keeps only their hash.`,
    token: 'Token',
    copy: 'Copy',
    copied: 'Copied.',
    selected: 'This browser does not let the page copy. It is selected: copy it yourself.',
    done: 'It is in the sensor, hide it',
  },

  refused: {
    title: 'Refused',
    words: {
      'not-enrolled': (deviceId: string) =>
        `A sensor that calls itself ${deviceId} was refused: it is not enrolled. If it is yours, enrol it and give it its token.`,
      'no-token': (deviceId: string) =>
        `A sensor that calls itself ${deviceId} was refused: it sent no token. Give it its token, or a new one.`,
      'wrong-token': (deviceId: string) =>
        `A sensor that calls itself ${deviceId} was refused: it sent a wrong token. Give it its token, or a new one.`,
    },
    attempts: (n: number, when: string) => `${plural(n, 'attempt', 'attempts')}, last ${when}`,
  },
} as const;
