// The judgement behind a worker: questions and answers, and of several states of a record only the last is judged.

const text_of = (id) => document.getElementById(id).textContent.trim();

export class Judgement {
  constructor() {
    this.waiting = new Map();
    this.number = 0;
    this.busy = false;
    this.pending = null;
    const source = text_of("worker-source");
    this.worker = new Worker(URL.createObjectURL(new Blob([source], { type: "text/javascript" })));
    this.ready = new Promise((resolve, reject) => {
      this.worker.onmessage = ({ data }) => {
        if (data.ready) return resolve();
        if (data.failed) return reject(new Error(data.failed));
        this.waiting.get(data.number)(JSON.parse(data.answer));
        this.waiting.delete(data.number);
      };
      this.worker.onerror = (trouble) => reject(new Error(trouble.message || "worker"));
    });
    this.worker.postMessage({ packed: text_of("judgement") });
  }

  async ask(question) {
    await this.ready;
    const number = ++this.number;
    const answer = new Promise((resolve) => this.waiting.set(number, resolve));
    this.worker.postMessage({ number, question: JSON.stringify(question) });
    return answer;
  }

  /** Judges the newest state; `seen` is called with each answer that is still of use. */
  judge(question, seen) {
    this.pending = { question, seen };
    if (!this.busy) this.work();
  }

  async work() {
    this.busy = true;
    while (this.pending) {
      const { question, seen } = this.pending;
      this.pending = null;
      const began = performance.now();
      const answer = await this.ask({ ask: "judge", ...question });
      seen(answer, performance.now() - began);
    }
    this.busy = false;
  }
}
