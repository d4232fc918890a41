/** An invented jumps group: Kestrel Lane Athletics does not exist, and nor do its athletes. */
export const WEARER = 'Orla Venn (triple jump)';
export const OTHERS = ['Jarrik Soule (long jump)', 'Mette Aldane (high jump)', 'Pim Castor (triple jump)'];
export const DEVICES = { pelvis: 'demo-pelvis', sternum: 'demo-sternum' } as const;
/** Of the wearer's body, habits and sensors. */
export const SEED = 20;
