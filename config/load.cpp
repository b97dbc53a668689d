// SPDX-License-Identifier: Apache-2.0
#include "config/load.h"

#include <cerrno>
#include <cstring>
#include <fstream>
#include <sstream>
#include <utility>

#include <fmt/format.h>

#include "config/load_sections.h"

namespace brinegate::config {
namespace {

// The members of a table of named tables, such as [link.NAME].
const Table& named_tables(const TableReader& root, std::string_view key, std::string_view what,
                          Problems& problems) {
  static const Table none;
  const Node* node = root.find(key);
  if (!node)
    return none;
  const auto* table = std::get_if<Table>(&node->value);
  if (!table) {
    problems.error(node->at, fmt::format("'{}' is {}: expected tables, such as [{}.NAME]", key,
                                         kind_of(*node), key));
    return none;
  }
  if (table->empty())
    problems.error(node->at, fmt::format("'{}' is empty: add one, such as [{}.NAME]", key, key));
  for (const Member& member : *table)
    check_name(member.key, what, member.at, problems);
  return *table;
}

void read_links(const TableReader& root, Context& context) {
  for (const Member& member : named_tables(root, "link", "link", context.problems)) {
    context.link_names.push_back(member.key);
    context.links.push_back(read_link(member.key, member.node, context));
  }
}

void read_profiles(const TableReader& root, Context& context, Site& site) {
  for (const Member& member : named_tables(root, "profile", "profile", context.problems)) {
    context.profile_names.push_back(member.key);
    site.profiles.push_back(read_profile(member.key, member.node, context.problems));
  }
}

Notify read_notify(const TableReader& root, Context& context) {
  Notify notify;
  for (const Member& member : named_tables(root, "notify", "notify", context.problems))
    notify.targets.push_back(read_notify(member.key, member.node, context));
  if (const Node* heartbeat = root.find("heartbeat"))
    notify.heartbeat = read_heartbeat(*heartbeat, context);
  return notify;
}

std::vector<StationPlaces> read_stations(const TableReader& root, Context& context, Site& site) {
  std::vector<StationPlaces> places;
  for (const Member& member : named_tables(root, "station", "station", context.problems)) {
    LoadedStation loaded = read_station(member.key, member.node, context);
    site.stations.push_back(std::move(loaded.station));
    places.push_back(std::move(loaded.places));
  }
  return places;
}

// None where it cannot be read.
std::optional<std::string> contents_of(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file.is_open() || std::filesystem::is_directory(path))
    return std::nullopt;
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

}  // namespace

void read_file_name(TableReader& reader, std::string_view key, std::string& file,
                    Context& context) {
  if (!reader.read(key, file))
    return;
  file = (context.folder / file).string();
  context.files.push_back(file);
}

Loaded load_text(std::string_view text, const std::string& file_name) {
  Context context(file_name);
  Problems& problems = context.problems;
  const Node document = parse_document(text, problems);
  if (problems.any_error())
    return {std::nullopt, problems.errors(), {}};

  Site site;
  TableReader root(document, known::site, "", problems);
  if (root.read("site", site.name))
    check_name(site.name, "site", root.at("site"), problems);
  if (root.read("data", site.data))
    site.data = (context.folder / site.data).string();
  if (const Node* mqtt = root.find("mqtt")) {
    context.has_mqtt = true;
    site.mqtt = read_mqtt(*mqtt, context);
  }
  if (const Node* http = root.find("http"))
    site.http = read_http(*http, context);
  if (const Node* history = root.find("history"))
    site.history = read_history(*history, problems);
  Notify notify = read_notify(root, context);
  read_links(root, context);
  read_profiles(root, context, site);
  const auto places = read_stations(root, context, site);
  site.links = std::move(context.links);

  if (problems.any_error())
    return {std::nullopt, problems.errors(), problems.hazards()};
  report_hazards(site, places, root.at("mqtt"), problems);
  if (problems.any_error())
    return {std::nullopt, problems.errors(), problems.hazards()};
  std::map<std::string, std::optional<std::string>> files;
  for (const std::string& file : context.files)
    files[file] = std::nullopt;
  return {std::move(site), {}, problems.hazards(), document, std::move(notify), std::move(files)};
}

Loaded load_file(const std::filesystem::path& path) {
  errno = 0;
  const auto text = contents_of(path);
  if (!text) {
    const char* reason = errno == 0 ? "it is a folder" : std::strerror(errno);
    Problems problems(path.string());
    problems.error({}, fmt::format("cannot read the configuration ({}): name a file that exists "
                                   "and may be read",
                                   reason));
    return {std::nullopt, problems.errors(), {}};
  }
  Loaded loaded = load_text(*text, path.string());
  std::error_code unknown;
  for (auto& [name, contents] : loaded.files)
    if (std::filesystem::is_regular_file(name, unknown))  // a pipe would be waited for
      contents = contents_of(name);
  return loaded;
}

}  // namespace brinegate::config
