// Every sentence of the app by name, of the first screens here and of those that come later in `screens/words.js`: a second
// language is two other files of this shape. Names of acts, codes, numbers and what is signed never depend on it. Words for
// codes come from the service's own table (`vocabulary.js`).

export const many = (n, one, more) => `${n} ${n === 1 ? one : more}`;

export const words = {

  // The strip on top.
  network: "Network",
  noNetwork: "No network",
  allSent: "All sent",
  toSend: (n) => `${n} to send`,
  refused: (n) => `${n} not recorded`,
  clockWrong: (min) => `This clock differs from the ledger's by ${min} min. Set it by the network before you sign; each entry records the difference.`,

  // Buttons.
  back: "Back",
  again: "Try again",
  home: "Home",
  yes: "Yes",
  no: "No",
  optional: "optional",

  // Memory and key.
  blockedTitle: "This browser keeps nothing here",
  blocked: "A setting forbids this page to keep anything. Allow it to keep site data, then open it again. What was signed before is still on this phone.",
  fullTitle: "The memory of this phone is full",
  full: "Nothing was signed. Free some memory (pictures, videos, other apps), then try again. What was signed before is kept.",
  brokenTitle: "The memory of this app cannot be opened",
  broken: "Do not delete it and do not make a new key. Close all windows of this app and try again; if it stays so, show this to your administrator.",
  failedTitle: "This screen cannot be shown",
  failed: "That is a fault of this app. What was signed is kept. Go back, and report to your administrator what you did.",
  notKeptTitle: "Nothing was signed",
  notKept: "It could not be kept on this phone: free some memory, then sign again.",
  privateTitle: "This is a private window",
  private: "What is signed here is lost when it closes. Open this page in an ordinary window.",
  cannot: "Use a newer browser, and not a private window: the key must stay on this phone and never leave it.",
  homeScreenFirst: "Put this page on the home screen first, then make the key there: this browser may remove what it keeps after seven days without a visit.",
  lostTitle: "This phone has lost its key",
  lost: "What it signed before still counts. Do not make a new key before your administrator has ended the old one.",
  lostKey: (kid) => `The key was ${kid.slice(0, 8)}….`,
  lostWaiting: (n) => `${many(n, "signed entry is", "signed entries are")} still kept on this phone.`,
  lostNothing: "Nothing that it signed is waiting here.",
  lostSend: "Send what is kept",
  lostSent: (n, refused) => `${n} sent.${refused ? ` ${refused} not recorded: show this to your administrator.` : ""}`,
  lostNew: "The old key was ended: make a new one",
  lostNewAsk: "A new key is another device of yours. Has your administrator ended the old key?",

  // A new key.
  newTitle: "This phone has no key yet",
  newText: "The key is made here and cannot leave this phone. With it you sign; your administrator enrolls it.",
  org: "Short name of your organization",
  orgHint: "Like harrow-field: lower-case letters, digits, hyphens.",
  person: "Your name, as printed",
  personHint: "For your administrator. It is kept out of the log.",
  device: "What this phone is called",
  makeKey: "Make the key",
  noService: "The service does not answer. This needs a network once.",

  // Asking to be enrolled.
  askOther: "Wrong organization or name",
  askOtherText: "The key stays the same. Give your administrator the new request, not the one before.",
  askAnew: "Ask with these",

  // Letting a colleague in.
  phonesTitle: "Phones and keys",

  // Ends and alarms.
  endedTitle: "This key was ended",
  ended: (day, seq) => `Its end was recorded on ${day}. What it signed up to number ${seq} still counts. Sign no more with this phone; show this to your administrator.`,
  endedTyped: "What was typed here and not signed is deleted.",
  endedNewPhone: (seq) => `Your role went to your new phone. What this one signed up to number ${seq} counts; leave it open until all is sent.`,
  stopTitle: "Stop",
  stop: {
    behind: "This phone's memory is older than what it has signed: it may have been restored from a copy. Sign no more with it and show it to your administrator.",
    origin: "The service shows a log that this phone did not join. Keep this phone as it is and call your administrator.",
    "log-shrunk": "The log shows fewer entries than this phone has seen: entries may be missing, or it was restored from an old copy. Keep this phone as it is and call your administrator.",
    "log-rewritten": "The log does not continue what this phone has seen. Keep this phone as it is and call your administrator.",
    "bad-answer": "The service's answer does not contain what this phone signed. It stays here. Keep this phone as it is and call your administrator.",
    "device-fork": "The ledger has another entry under a number that this phone used. Sign no more with it and show it to your administrator.",
  },
  stopKept: "What this phone signed is kept.",

  // Home.
  hello: (person) => person || "This phone",
  isRole: (role, org) => `${role} of ${org}`,
  worksOffline: "Works without a network.",
  briefOf: (when) => `Lots, people and forms as of ${when}.`,
  appNotWhole: "Not all of this app is kept on this phone: without a network some screens would not open. Go online once before you leave.",
  noBrief: "Nothing is loaded yet for work without a network. Go online once before you leave.",
  oldBrief: "Older than a day. Go online once before you leave.",
  begin: "Begin a visit",
  take: "Receive samples",
  pack: "Pack an envelope",
  ship: "Ship an envelope",
  reopen: "Open an envelope again",
  dock: "Receive an envelope",
  stores: "Store, withdraw, end custody",
  lots: "Lots and labels",
  hours: "Hours and closed days",
  limits: "Thresholds of the rules",
  signedHere: "Signed here",
  visits: "Visits under way",
  noVisits: "No visit is under way.",
  visitLine: (n, outdoor) => `${many(n, "sample", "samples")}${outdoor ? "" : ", no outdoor control yet"}`,
  newEdition: "A new edition of this app is ready.",
  useEdition: "Use it",

  // Begin a visit.
  isPrivate: "Kept out of the log.",
  more: "More",

  // A visit.
  runs: "Runs not signed yet",
  run: (number) => `Pump of ${number} runs`,
  ranNotSigned: (number) => `Pump of ${number} was stopped: not signed yet`,

  // To correct, and to allow by exception.
  momentHint: (offset) => `Like 2026-12-01 09:12, by clocks at ${offset}.`,
  wrongMoment: "Write day and time like 2026-12-01 09:12.",
  // Before the visit, and after it.
  planTitle: "Where to sample",
  kit: "Check the kit",
  wrongDay: "Write the day like 2026-12-01.",
  chase: "What is due",

  // An envelope that goes with a courier.
  carryTitle: "Envelope to a courier",

  // A cassette.
  heightHint: "With its unit: 4 ft, 48 in or 1.2 m.",
  plannedHint: "Minutes and seconds, like 5:00.",

  // Signed here.
  signedNone: "Nothing was signed on this phone yet.",
  statement: (seq) => `Number ${seq} of this phone`,
  states: { waiting: "to send", registered: "recorded", refused: "not recorded", "set aside": "set aside" },
  sendAgain: "Send again",
  setAside: "Set aside",
  setAsideAsk: (seq) => `Its number is not used again: in the ledger number ${seq} is missing from then on (CU-10). It is kept here.`,
  takeUp: "Take up again",
  edition: "Edition of this app",
  editionText: "Compare it with what the operator sees in bailee serve.",
  keyOf: "Key",
  leaveOpen: "Leave this open until all is sent.",
  signsLate: "This takes long. Wait, or close all windows of this app and open it again. Look at everything signed here before you sign it once more.",
  signedKept: (what) => `Signed and kept: ${what}.`,
  gap: (n) => `${many(n, "earlier entry of this phone has", "earlier entries of this phone have")} not reached the ledger.`,

  // What was typed.
  typedBefore: (when) => `Not signed yet: what you typed at ${when} is here.`,
  typedDrop: "Empty this screen",
  typedTitle: "Typed and not signed",
  typedMany: (n) => `${many(n, "screen", "screens")} of this phone, kept for a week at most.`,
  typedDeleteAll: "Delete what is not signed",
  typedDeleteAsk: "It cannot be brought back. Pumps that run, pictures and what was signed stay.",
  typedDelete: "Delete it",
  needed: "Needed.",
  choose: "Choose one.",
  wrongDecimal: "Write a number, like 15.0.",
  wrongLength: "Write the length with its unit, like 4 ft, 48 in or 1.2 m.",
  wrongRun: "Write minutes and seconds: 5:00, 55:00 for 55 minutes, 0:55 for 55 seconds; or seconds like 300.",
  wrongTag: "Use letters, digits, spaces and . _ / # + : -, a letter or digit first.",
  wrongCount: "Write a whole number.",
  wrongOrg: "Write the short name: lower-case letters, digits and hyphens.",
  notSigned: "Nothing was signed.",
  notKnown: (places) => `This edition of the app cannot sign this (${places}). Nothing was signed: use the new edition, or the command line.`,
  wrongNumber: {
    strange: ({ position, character }) => `Character ${position}, ${character}, never appears in a number: look at the label again.`,
    length: ({ length }) => `That has ${length} ${length === 1 ? "character" : "characters"} and a number has 12: scan it again, or type all of it.`,
    kind: ({ number, kind }) => `${number} is another kind of number: ${kind ? `the number of a ${kind} is needed` : "it is none used here"}.`,
    swapped: ({ perhaps }) => `A character is wrong. If the label has ${perhaps}, enter that.`,
    check: () => "At least one character is wrong: scan the label, or type it again.",
  },
};
