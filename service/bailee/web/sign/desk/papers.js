// Papers and reading pages of the service, which take a token of this key once a day.

import { alarm } from "../parts/frame.js";

export async function read(phone, address) {
  await phone.enterPages().then(() => location.assign(address), (error) => alarm(error.message));
}
