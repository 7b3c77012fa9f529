// All words of the desk's own. Sentences about prints come from the program and are not here.
export const words = {
  desk: {
    title: 'Hairline desk',
    skip: 'Skip to what is shown',
    parts: 'Parts of the desk',
    jobs: 'Jobs',
    records: 'Records',
    night: 'Tonight',
    stop: 'Close the desk',
    stopped: 'The desk is closed. To open it again, type `hairline desk` and its folder in a terminal.',
    gone: 'The desk does not answer: it was closed, or the terminal it ran in. Start it again with `hairline desk`.',
    wait: 'One moment',
    close: 'Close',
    cancel: 'Cancel',
    save: 'Save',
  },
};
