// Runs answers.py under a real MicroPython: PACKAGE FILE... < commands > answers
import { readFileSync } from "node:fs";
import { basename } from "node:path";

const [folder, ...files] = process.argv.slice(2);
const { loadMicroPython } = await import(`${folder}/micropython.mjs`);
const micropython = await loadMicroPython({ stdout: console.log, linebuffer: true });
for (const file of files) micropython.FS.writeFile(`/${basename(file)}`, readFileSync(file));
micropython.FS.writeFile("/commands", readFileSync(0));
try {
  micropython.runPython(`
import sys
sys.path.insert(0, "/")
import answers
assert sys.implementation.name == "micropython"
with open("/commands") as commands:
    print(answers.answers(commands.read()))
`);
} catch (error) {
  console.error(error.message);
  process.exitCode = 1;
}
