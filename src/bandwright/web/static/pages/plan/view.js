/** Which part of the spectrum the Plan page shows. */
import { looking } from "../../chart/looking.js";
import { axis } from "./model.js";

export const look = looking(axis);
export const { bring, closeUp } = look;
