// Runs a fuzz target without libFuzzer: on every seed in a folder and on mutations of it that a
// fixed seed draws, so that each build (the sanitized one above all) tries the readers briefly.
#include <algorithm>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <string>
#include <vector>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace {

std::string contents(const std::filesystem::path& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

void run(const std::string& bytes) {
  LLVMFuzzerTestOneInput(reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size());
}

/// bytes with a few characters replaced, removed or put in.
std::string mutated(std::string bytes, std::mt19937& random) {
  static const std::string marks("0159.,;\t \n\r-+eE#!\"'[]:\0\xff", 24);
  for (std::size_t change = 1 + random() % 4; change > 0 && !bytes.empty(); --change) {
    const std::size_t at = random() % bytes.size();
    const char mark = marks[random() % marks.size()];
    switch (random() % 3) {
      case 0:
        bytes[at] = mark;
        break;
      case 1:
        bytes.erase(at, 1 + random() % 3);
        break;
      default:
        bytes.insert(at, 1, mark);
    }
  }
  return bytes;
}

}  // namespace

int main(int, char** arguments) {
  std::vector<std::filesystem::path> seeds;
  for (const auto& entry : std::filesystem::directory_iterator(arguments[1]))
    seeds.push_back(entry.path());
  std::sort(seeds.begin(), seeds.end());
  std::mt19937 random(1);
  for (const auto& seed : seeds) {
    const std::string bytes = contents(seed);
    run(bytes);
    for (int i = 0; i < 200; ++i) run(mutated(bytes, random));
  }
  std::printf("%zu seeds\n", seeds.size());
  return seeds.empty() ? 1 : 0;
}
