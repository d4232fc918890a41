/** The sentences of the centre cue. */

export const CUE_TEXTS = {
  cue: {
    title: 'Centre cue',
    open: 'Show the centre cue',
    close: 'Hide the centre cue',
    loading: 'Loading the centre cue …',
    failed: 'The centre cue could not be loaded. Check the connection to the server, then try again.',
    part: 'Follow',
    parts: { pelvis: 'Pelvis', trunk: 'Trunk' },
    zone: 'Quiet within',
    zoneWidth: (deg: number) => `±${deg}°`,
    soundOn: 'Start the sound',
    soundOff: 'Stop the sound',
    volume: 'Volume',
    soundFailed: 'This browser could not start the sound. The bar works without it.',
    headphones:
      'Best with headphones: a tone in the left ear means too far left. Higher and faster is further off, silence is the centre, falling tones mean no signal. Keep it low enough to hear the coach.',
    zero: 'The centre is the reference stand of this session, not what feels straight. Stop with pain, giddiness or loss of balance.',
    centre: 'Centre',
    off: { left: (deg: string) => `${deg}° to the left`, right: (deg: string) => `${deg}° to the right` },
    guide: {
      pelvis: { left: 'left side lower: raise it', right: 'right side lower: raise it' },
      trunk: { left: 'leans left: come to the right', right: 'leans right: come to the left' },
    },
    lastStance: { left: 'step on the left', right: 'step on the right' },
    lostTitle: 'No signal',
    lost: {
      connection: 'The connection is lost.',
      signal: 'There is no current value of this sensor.',
      reference: 'The reference is not known: do the reference stand first.',
      stance: 'No step in the last seconds, or not measured in it.',
    },
    pausedTitle: 'Paused',
    paused: {
      'lead-in': 'The reference is being taken.',
      task: 'The cue is for standing and walking.',
    },
    aloud: { centre: 'Centre', left: 'Too far left', right: 'Too far right' },
    describe: 'Where the athlete is, left and right of the reference',
  },
} as const;
