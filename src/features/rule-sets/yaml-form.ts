import { keyOrder, writeYaml } from '../../http/yaml-write.ts';
import type { JsonObject } from '../../http/json-object.ts';

/** One order for all levels: each level has a part of these keys, and reads as people would write it. */
const ORDER = keyOrder(
  (
    'name id title description kind item items field when each test ' +
    'parameter value unit vehicle maximumDays meaning atLeast atMost strict from to values ' +
    'at through inclusive addMonths addYears endOfYear within expr ' +
    'effect message fix basis source note floor safetyCritical recall watch concession ' +
    'answers measured parameters event startsOn endsOn venue photos stage only expect findings ' +
    'concessionCategories rules examples'
  ).split(' '),
);

/** A rule set that was not written as YAML, as YAML: always in the same order. */
export function toYaml(document: JsonObject): string {
  return writeYaml(document, ORDER);
}
