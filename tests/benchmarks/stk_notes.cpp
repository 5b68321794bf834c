// Notes of the physical models of the Synthesis ToolKit, as 32-bit samples at 44.1 kHz on standard
// output: stk_notes MODEL HERTZ SECONDS. Built and called by study_other_sounds.py.
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <string>

#include <stk/Clarinet.h>
#include <stk/Flute.h>
#include <stk/Saxofony.h>

int main(int count, char **words) {
  if (count != 4) return 2;
  const std::string model = words[1];
  const double hertz = std::atof(words[2]), seconds = std::atof(words[3]);
  stk::Stk::setSampleRate(44100.0);
  stk::Stk::setRawwavePath("/usr/share/stk/rawwaves/");
  std::unique_ptr<stk::Instrmnt> player;
  if (model == "clarinet") player.reset(new stk::Clarinet(20.0));
  else if (model == "saxofony") player.reset(new stk::Saxofony(20.0));
  else if (model == "flute") player.reset(new stk::Flute(20.0));
  else return 2;
  player->controlChange(1, 0.0);  // no vibrato of its own, where the model has that control
  player->noteOn(hertz, 0.7);
  std::srand(7);  // its noise would be of the clock
  const long all = long(44100 * seconds), off = all - 4410;
  for (long at = 0; at < all; ++at) {
    if (at == off) player->noteOff(0.5);
    const float sample = float(player->tick());
    std::fwrite(&sample, sizeof sample, 1, stdout);
  }
  return 0;
}
